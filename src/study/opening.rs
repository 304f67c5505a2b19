//! When a breaker or fuse opens.
//!
//! Between two published gates the true time is unknown, so gates are read as steps: the shortest
//! time is the next higher gate's least, the longest the next lower gate's most (a larger current
//! opens no later). Only between the points of a maker's own sheet is it read along a straight line
//! on log-log paper. Above the last gate the shortest is nothing; a fuse's longest falls with the
//! square of the current but not under 10 ms, a breaker's stays. Under the first gate at which it
//! must open it may never do so.

use crate::circuit::Protector;
use crate::handbook::protectors;
use crate::handbook::sources::Certainty;
use crate::quantity::{Current, Duration, Temperature};

/// A fuse's longest opening time falls no further than this.
pub const FUSE_FLOOR_S: f64 = 0.010;
/// Shares of a rating that are nearer than this are one.
const ROUNDING: f64 = 1e-9;

/// The shortest and the longest time in which a device opens at one current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Not sooner; `None`: it holds.
    pub least: Option<Duration>,
    /// Not later; `None`: it may never open.
    pub most: Option<Duration>,
}

/// One point of the curve in use: share of rating and times in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Gate {
    share: f64,
    least: Option<f64>,
    most: Option<f64>,
    holds: bool,
}

/// A device's curve looked up once, for those who ask often.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    rating: f64,
    gates: Vec<Gate>,
    /// A maker's own points may be joined on log-log paper; a class's may not.
    along: bool,
    is_fuse: bool,
}

impl Curve {
    /// Looks a device's curve up.
    pub fn of(device: &Protector) -> Curve {
        Curve {
            rating: device.rating.in_amps(),
            gates: gates(device),
            along: !device.opens.is_empty(),
            is_fuse: device.is_fuse,
        }
    }

    /// Whether anything is known of it.
    pub fn is_known(&self) -> bool {
        !self.gates.is_empty()
    }

    /// The band at a current.
    pub fn band(&self, current: Current) -> Band {
        self.at_share(current.in_amps().abs() / self.rating)
    }

    fn at_share(&self, share: f64) -> Band {
        let gates = &self.gates;
        // A current worked out in amperes lands a rounding away from the gate it means.
        let share = gates.iter().map(|g| g.share).find(|g| (g - share).abs() <= g * ROUNDING).unwrap_or(share);
        // At its rating a device holds: that is what a rating is.
        if share <= 1.0 && gates.iter().all(|g| g.share > 1.0 || g.most.is_none()) {
            return Band { least: None, most: None };
        }
        let least = shortest(gates, share, self.along);
        let most = longest(gates, share, self.along, self.is_fuse);
        // Rounding on a log-log line must not cross the two.
        let most = most.map(|m| m.max(least.unwrap_or(0.0)));
        Band { least: least.map(Duration::seconds), most: most.map(Duration::seconds) }
    }
}

/// Whether opening times are known from the maker's sheet or from a verified class.
pub fn is_known(device: &Protector) -> bool {
    !device.opens.is_empty() || !class_gates(device).is_empty()
}

/// The share of its rating from which a device must open: the first point that has a longest time.
pub fn must_open_from(device: &Protector) -> Option<f64> {
    gates(device).iter().filter(|g| g.most.is_some()).map(|g| g.share).min_by(f64::total_cmp)
}

/// Every current, as a share of the rating, at which the curve in use has a point; least first.
pub fn shares(device: &Protector) -> Vec<f64> {
    gates(device).iter().map(|g| g.share).collect()
}

/// The band at a current.
pub fn band(device: &Protector, current: Current) -> Band {
    at_share(device, current.in_amps().abs() / device.rating.in_amps())
}

/// The shortest time at a current in hot air, where a device is as if it were rated for no more than it
/// carries there ([`protectors::hot_rating`]). Heat opens a device sooner, which is the worse side only for
/// what it must hold: whoever asks how late it may open asks [`band`].
pub fn least_hot(device: &Protector, current: Current, air: Temperature) -> Option<Duration> {
    let rating = device.rating * protectors::hot_rating(air).in_ones();
    at_share(device, current.in_amps().abs() / rating.in_amps()).least
}

fn at_share(device: &Protector, share: f64) -> Band {
    Curve::of(device).at_share(share)
}

fn gates(device: &Protector) -> Vec<Gate> {
    if device.opens.is_empty() {
        return class_gates(device);
    }
    device
        .opens
        .iter()
        .map(|o| Gate {
            share: o.of_rating.in_ones(),
            least: Some(o.least.in_seconds()),
            most: Some(o.most.in_seconds()),
            holds: false,
        })
        .collect()
}

/// A class's gates that were seen in print: what is from memory decides nothing.
fn class_gates(device: &Protector) -> Vec<Gate> {
    let Some(form) = &device.form else { return Vec::new() };
    protectors::gates(form, device.rating)
        .unwrap_or_default()
        .iter()
        .filter(|g| g.certainty != Certainty::Memory)
        .map(|g| Gate {
            share: g.of_rating.in_ones(),
            least: g.least.map(|t| t.in_seconds()),
            most: g.most.map(|t| t.in_seconds()),
            holds: g.holds,
        })
        .collect()
}

/// `None`: it holds.
fn shortest(gates: &[Gate], share: f64, along: bool) -> Option<f64> {
    if along && let Some(t) = on_the_line(gates, share, |g| g.least) {
        return Some(t);
    }
    match gates
        .iter()
        .filter(|g| share <= g.share && (g.least.is_some() || g.holds))
        .min_by(|a, b| a.share.total_cmp(&b.share))
    {
        Some(g) if g.holds => None,
        Some(g) => g.least,
        None => Some(0.0),
    }
}

/// `None`: it may never open.
fn longest(gates: &[Gate], share: f64, along: bool, is_fuse: bool) -> Option<f64> {
    if along && let Some(t) = on_the_line(gates, share, |g| g.most) {
        return Some(t);
    }
    let gate =
        gates.iter().filter(|g| g.share <= share && g.most.is_some()).max_by(|a, b| a.share.total_cmp(&b.share))?;
    let most = gate.most?;
    let is_last = gates.iter().all(|g| g.share <= gate.share);
    if is_last && is_fuse {
        return Some((most * (gate.share / share).powi(2)).max(FUSE_FLOOR_S.min(most)));
    }
    Some(most)
}

/// Between two neighbouring points of a maker's sheet, along a straight line on log-log paper.
fn on_the_line(gates: &[Gate], share: f64, time: impl Fn(&Gate) -> Option<f64>) -> Option<f64> {
    gates.windows(2).find_map(|pair| {
        let (a, b) = (&pair[0], &pair[1]);
        if !(a.share <= share && share <= b.share) {
            return None;
        }
        let (ta, tb) = (time(a)?, time(b)?);
        if ta <= 0.0 || tb <= 0.0 || a.share >= b.share {
            return (share < b.share).then_some(ta).or(Some(tb));
        }
        let x = (share / a.share).ln() / (b.share / a.share).ln();
        Some(ta * (tb / ta).powf(x))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{NodeId, Opening};
    use crate::quantity::{Ratio, Resistance};

    fn device(is_fuse: bool, amps: f64, form: Option<&str>, opens: &[(f64, f64, f64)]) -> Protector {
        Protector {
            is_fuse,
            line: NodeId(0),
            load: NodeId(1),
            rating: Current::amps(amps),
            volts: None,
            breaks: None,
            opens: opens
                .iter()
                .map(|(p, a, b)| Opening {
                    of_rating: Ratio::percent(*p),
                    least: Duration::seconds(*a),
                    most: Duration::seconds(*b),
                })
                .collect(),
            form: form.map(str::to_string),
            resets_itself: false,
            resistance: Resistance::milliohms(1.0),
        }
    }

    fn seconds(band: Band) -> (Option<f64>, Option<f64>) {
        (band.least.map(|t| t.in_seconds()), band.most.map(|t| t.in_seconds()))
    }

    #[test]
    fn a_makers_points_are_met_and_joined_on_log_log_paper() {
        let d = device(true, 100.0, None, &[(135.0, 60.0, 1800.0), (200.0, 2.0, 60.0), (600.0, 0.05, 1.0)]);
        let near = |got: (Option<f64>, Option<f64>), want: (f64, f64)| {
            assert!(
                (got.0.unwrap() / want.0 - 1.0).abs() < 1e-9 && (got.1.unwrap() / want.1 - 1.0).abs() < 1e-9,
                "{got:?}"
            );
        };
        near(seconds(band(&d, Current::amps(135.0))), (60.0, 1800.0));
        near(seconds(band(&d, Current::amps(200.0))), (2.0, 60.0));
        near(seconds(band(&d, Current::amps(600.0))), (0.05, 1.0));
        // Half way on the log scale between 200 % and 600 %: the geometric means.
        let middle = (200.0f64 * 600.0).sqrt();
        near(seconds(band(&d, Current::amps(middle))), ((2.0f64 * 0.05).sqrt(), 60.0f64.sqrt()));
        // Under the first point it may never open; at its rating it holds.
        assert_eq!(seconds(band(&d, Current::amps(120.0))), (Some(60.0), None));
        assert_eq!(seconds(band(&d, Current::amps(100.0))), (None, None));
        // Above the last, a fuse's longest falls with the square: 1 s × (600/1200)², and stops at 10 ms.
        let (least, most) = seconds(band(&d, Current::amps(1200.0)));
        assert_eq!(least, Some(0.0));
        assert!((most.unwrap() - 0.25).abs() < 1e-12);
        assert_eq!(seconds(band(&d, Current::amps(1e6))).1, Some(0.010));
        let breaker = device(false, 100.0, None, &[(135.0, 60.0, 1800.0), (600.0, 0.5, 3.0)]);
        assert_eq!(seconds(band(&breaker, Current::amps(1e5))).1, Some(3.0));
    }

    #[test]
    fn without_a_curve_it_may_open_at_once_or_never() {
        let d = device(true, 100.0, None, &[]);
        assert!(!is_known(&d));
        assert_eq!(seconds(band(&d, Current::amps(900.0))), (Some(0.0), None));
        assert_eq!(seconds(band(&d, Current::amps(90.0))), (None, None));
    }

    fn at(device: &Protector, amps: f64) -> (Option<f64>, Option<f64>) {
        seconds(band(device, Current::amps(amps)))
    }

    /// Every published gate that was seen, of every class, at its own current and in the middle of the step to the
    /// next. Source: the rows of `opening-gates.csv`, each of which names its own.
    #[test]
    fn published_opening_time_gates_are_reproduced_at_every_tabulated_point_and_stepped_between() {
        let mut seen = 0;
        for form in protectors::forms() {
            for rating in [10.0, 20.0, 31.0, 40.0, 60.0, 75.0, 80.0, 100.0, 120.0, 150.0, 200.0, 300.0] {
                let Some(all) = protectors::gates(form, Current::amps(rating)) else { continue };
                let gates: Vec<_> = all.iter().filter(|g| g.certainty != Certainty::Memory).collect();
                for is_fuse in [true, false] {
                    let d = device(is_fuse, rating, Some(form), &[]);
                    for (i, gate) in gates.iter().enumerate() {
                        seen += 1;
                        let said = format!("{form} {rating} A at {} %", gate.percent());
                        let (least, most) = at(&d, rating * gate.percent() / 100.0);
                        if let Some(printed) = gate.least
                            && gate.percent() > 100.0
                        {
                            assert_eq!(least, Some(printed.in_seconds()), "{said}");
                        }
                        if let Some(printed) = gate.most {
                            assert_eq!(most, Some(printed.in_seconds()), "{said}");
                        }
                        if gate.holds {
                            assert_eq!(least, None, "{said} it must hold");
                        }
                        let Some(next) = gates.get(i + 1) else { continue };
                        let (least, most) = at(&d, rating * (gate.percent() + next.percent()) / 200.0);
                        if let Some(printed) = next.least {
                            assert_eq!(least, Some(printed.in_seconds()), "{said} and a half step on");
                        }
                        if let Some(printed) = gate.most {
                            assert_eq!(most, Some(printed.in_seconds()), "{said} and a half step on");
                        }
                    }
                }
            }
        }
        assert!(seen > 150, "{seen}");
    }

    /// Regular blade fuse of 10 A: at 20 A [0.15, 5] s; at 27 A, between the 200 and 350 % gates, [0.08, 5] s; at
    /// 13 A never guaranteed. Source: ISO 8820-3 Type C gates as declared in a maker's sheet.
    #[test]
    fn a_regular_blade_fuse_by_its_gates() {
        let fuse = device(true, 10.0, Some("iso-8820-3-type-c"), &[]);
        assert_eq!(at(&fuse, 20.0), (Some(0.15), Some(5.0)));
        assert_eq!(at(&fuse, 27.0), (Some(0.08), Some(5.0)));
        assert_eq!(at(&fuse, 13.0), (Some(0.75), None));
        assert_eq!(must_open_from(&fuse), Some(1.35));
        // It carries its rating: 110 % for 100 h is printed, and nothing under it opens it.
        assert_eq!(at(&fuse, 11.0), (Some(360_000.0), None));
        assert_eq!(at(&fuse, 10.0), (None, None));
    }

    /// Blade 15 A under blade 30 A: at 30 A the smaller has opened by 5 s while the larger holds. At 105 A (700 % and
    /// 350 %) the larger opens no sooner than 0.08 s, and nothing verified says when the smaller has. Source: ISO
    /// 8820-3 Type C gates; the 600 % row under 30 A is from memory and decides nothing.
    #[test]
    fn two_blade_fuses_in_series() {
        let (small, large) =
            (device(true, 15.0, Some("iso-8820-3-type-c"), &[]), device(true, 30.0, Some("iso-8820-3-type-c"), &[]));
        assert_eq!(at(&small, 30.0).1, Some(5.0));
        assert_eq!(at(&large, 30.0), (None, None));
        assert_eq!(at(&large, 105.0).0, Some(0.08));
        // Its last verified gate is 350 %, at most 0.5 s: at twice that a quarter of it.
        assert_eq!(at(&small, 105.0).1, Some(0.125));
    }

    #[test]
    fn above_the_last_gate_the_shortest_is_nothing_and_a_fuse_falls_with_the_square() {
        let fuse = device(true, 40.0, Some("iso-8820-3-type-e"), &[]);
        // Last gate: 600 %, at most 1 s. At 1200 %: a quarter; at 12 000 %: 2.5 ms, held at 10 ms.
        assert_eq!(at(&fuse, 480.0), (Some(0.0), Some(0.25)));
        assert_eq!(at(&fuse, 4800.0), (Some(0.0), Some(0.010)));
        // IEC 60898-1 type C: 145 % at most 3600 s; 255 % no sooner than 1 s; 500 % no sooner than 0.1 s; 1000 % at
        // most 0.1 s, and a breaker's stays there.
        let breaker = device(false, 20.0, Some("iec-60898-1-type-c"), &[]);
        assert_eq!(at(&breaker, 29.0), (Some(1.0), Some(3600.0)));
        assert_eq!(at(&breaker, 100.0), (Some(0.1), Some(60.0)));
        assert_eq!(at(&breaker, 120.0), (Some(0.0), Some(60.0)));
        assert_eq!(at(&breaker, 200.0).1, Some(0.1));
        assert_eq!(at(&breaker, 4000.0), (Some(0.0), Some(0.1)));
    }

    #[test]
    fn a_larger_current_never_opens_a_device_later() {
        for form in protectors::forms() {
            for rating in [10.0, 40.0, 60.0, 80.0, 200.0] {
                for is_fuse in [true, false] {
                    let d = device(is_fuse, rating, Some(form), &[]);
                    if !is_known(&d) {
                        continue;
                    }
                    let mut last = (f64::INFINITY, f64::INFINITY);
                    for step in 1..400 {
                        let (least, most) = at(&d, rating * f64::from(step) * 0.05);
                        let now = (least.unwrap_or(f64::INFINITY), most.unwrap_or(f64::INFINITY));
                        assert!(now.0 <= last.0 && now.1 <= last.1, "{form} {rating} A at {} %", step * 5);
                        assert!(now.0 <= now.1, "{form} {rating} A at {} %", step * 5);
                        last = now;
                    }
                }
            }
        }
    }

    #[test]
    fn a_fuse_that_its_maker_says_is_quicker_than_ten_milliseconds_is_not_made_slower() {
        let fuse = device(true, 100.0, None, &[(135.0, 60.0, 600.0), (2500.0, 0.002, 0.005)]);
        assert_eq!(at(&fuse, 3000.0), (Some(0.0), Some(0.005)));
    }

    /// Large blade fuse of 40 A: carries 34 A at 65 °C, so in such air 68 A is its 200 %, and opens it no sooner than
    /// 2 s. Source: a maker's sheet (40 A to 20 °C, 34 at 65, 30 at 85, 25 at 110, 22 at 125).
    #[test]
    fn hot_air_opens_a_device_sooner() {
        let fuse = device(true, 40.0, Some("iso-8820-3-type-e"), &[]);
        let hot = |amps, celsius| {
            least_hot(&fuse, Current::amps(amps), Temperature::celsius(celsius)).map(|t| t.in_seconds())
        };
        assert_eq!(hot(68.0, 65.0), Some(2.0));
        assert_eq!(hot(54.0, 20.0), Some(60.0));
        assert_eq!(hot(54.0, 85.0), Some(2.0));
        assert_eq!(hot(30.0, 85.0), None);
    }
}

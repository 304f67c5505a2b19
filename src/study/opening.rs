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
use crate::quantity::{Current, Duration};

/// A fuse's longest opening time falls no further than this.
pub const FUSE_FLOOR_S: f64 = 0.010;

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
    let share = current.in_amps().abs() / device.rating.in_amps();
    let gates = gates(device);
    // At its rating a device holds: that is what a rating is.
    if share <= 1.0 && gates.iter().all(|g| g.share > 1.0 || g.most.is_none()) {
        return Band { least: None, most: None };
    }
    let along = !device.opens.is_empty();
    let least = shortest(&gates, share, along);
    let most = longest(&gates, share, along, device.is_fuse);
    // Rounding on a log-log line must not cross the two.
    let most = most.map(|m| m.max(least.unwrap_or(0.0)));
    Band { least: least.map(Duration::seconds), most: most.map(Duration::seconds) }
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
}

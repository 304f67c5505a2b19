//! Where along a conductor its first device may sit: what `device-too-far` and `tap-unprotected` share.

use super::{Bench, Bound};
use crate::circuit::{PartId, RunId};
use crate::finding::Severity;
use crate::handbook::Limit;
use crate::handbook::limits;
use crate::quantity::{Length, Show};
use crate::study::supply::SourceKind;

/// Where a stretch of conductor gets its current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum From {
    /// A battery's post.
    Battery,
    /// Another source, or a post at which a tap leaves.
    Other,
}

impl From {
    /// A source's own terminal.
    pub(super) fn source(kind: SourceKind) -> From {
        match kind {
            SourceKind::Battery => From::Battery,
            SourceKind::Alternator | SourceKind::Charger => From::Other,
        }
    }

    fn covered(self) -> Limit<Length> {
        match self {
            From::Battery => limits::placed_from_battery(),
            From::Other => limits::placed_covered(),
        }
    }
}

/// How a length before the first device comes out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Placement {
    /// The limit that binds: the bare one unless the conductor is covered all the way.
    pub(super) limit: Limit<Length>,
    /// What to find; `None` within the limits.
    pub(super) severity: Option<Severity>,
    /// Past what even a covered conductor may have.
    pub(super) past_covered: bool,
}

/// 178 mm bare; 1.02 m covered from another source or a tap's post, 1.83 m covered from a battery. Bare between the two:
/// query. Past the covered limit: unsafe.
pub(super) fn placement(from: From, length: Length, covered: bool) -> Placement {
    held(limits::placed_bare(), from.covered(), length, covered)
}

/// The same, by `device-too-far`'s limits as the club has tightened them.
pub(super) fn placement_by_club(bench: &Bench<'_>, rule: &str, from: From, length: Length, covered: bool) -> Placement {
    let tight =
        |limit: Limit<Length>| Limit { value: bench.limits.standing(rule, limit.value, Bound::AtMost), ..limit };
    held(tight(limits::placed_bare()), tight(from.covered()), length, covered)
}

fn held(bare: Limit<Length>, long: Limit<Length>, length: Length, covered: bool) -> Placement {
    let past_covered = length > long.value;
    let severity = if past_covered {
        Some(Severity::Unsafe)
    } else if !covered && length > bare.value {
        Some(Severity::Query)
    } else {
        None
    };
    // Covered or past all limits, it is the covered one that it is held against.
    let limit = if covered || past_covered { long } else { bare };
    Placement { limit, severity, past_covered }
}

/// Names of parts in a sentence: "`a`, `b` and `c`".
pub(super) fn part_names(bench: &Bench<'_>, parts: &[PartId]) -> String {
    let names: Vec<String> = parts.iter().map(|p| format!("`{}`", bench.circuit.part(*p).name)).collect();
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => "nothing".into(),
    }
}

/// What to do about a device that sits too far along a conductor.
pub(super) fn placement_advice(
    bench: &Bench<'_>,
    from: From,
    device: &str,
    origin: &str,
    bare: &[RunId],
) -> Vec<String> {
    let long = from.covered().value;
    let mut advice = vec![format!(
        "move `{device}` to within {} of `{origin}`, or within {} with everything before it in a sheath or conduit all the way",
        limits::placed_bare().value.show(),
        long.show()
    )];
    if !bare.is_empty() {
        let names: Vec<String> = bare.iter().map(|r| format!("`{}`", bench.circuit.run(*r).name)).collect();
        advice.push(format!(
            "{} has no `covering:`; give it `covering: sheath` or `conduit` if it has one",
            names.join(", ")
        ));
    }
    advice
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where the printed figures fall: each just within, each just past. Sources: 33 CFR 183.455(b)(1) and (2), 7 and
    /// 40 in; ABYC E-11 (2004) 11.12.1.1.1, 40 in (1.02 m) and 72 in (1.83 m).
    #[test]
    fn placement_by_the_printed_figures() {
        let mm = |from, mm, covered| placement(from, Length::millimetres(mm), covered).severity;
        let inches = |from, inches, covered| placement(from, Length::inches(inches), covered).severity;
        for from in [From::Battery, From::Other] {
            assert_eq!(inches(from, 7.0, false), None);
            assert_eq!(mm(from, 178.0, false), None);
            assert_eq!(mm(from, 178.1, false), Some(Severity::Query));
            assert_eq!(inches(from, 7.1, false), Some(Severity::Query));
            assert_eq!(inches(from, 7.1, true), None);
            assert_eq!(inches(from, 40.0, true), None);
        }
        assert_eq!(mm(From::Other, 1020.0, true), None);
        assert_eq!(mm(From::Other, 1020.1, true), Some(Severity::Unsafe));
        assert_eq!(mm(From::Other, 1020.0, false), Some(Severity::Query));
        assert_eq!(mm(From::Other, 1020.1, false), Some(Severity::Unsafe));
        assert_eq!(mm(From::Battery, 1020.1, true), None);
        assert_eq!(inches(From::Battery, 72.0, true), None);
        assert_eq!(mm(From::Battery, 1830.0, true), None);
        assert_eq!(mm(From::Battery, 1830.1, true), Some(Severity::Unsafe));
        assert_eq!(mm(From::Battery, 1830.1, false), Some(Severity::Unsafe));
    }

    #[test]
    fn the_limit_shown_is_the_one_that_binds() {
        let limit = |metres, covered| placement(From::Battery, Length::metres(metres), covered).limit.value.in_metres();
        assert_eq!(limit(0.3, false), 0.178);
        assert_eq!(limit(0.3, true), 1.83);
        assert_eq!(limit(2.0, false), 1.83);
    }
}

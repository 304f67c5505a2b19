//! Values of the circuit for use in the text: `<value:runs.main-return.length>`.

use super::check::{activity, time_range};
use super::keys::{self, KeyShape, Named, Table, Takes};
use super::tree::{Node, Value};
use super::{Activity, Guide};
use crate::quantity::{Length, Show};

/// The least that is added to a fitted length for trimming both ends, in metres. Common practice, no source.
const CUT_ALLOWANCE_LEAST: f64 = 0.050;
/// The share of a fitted length that is added for how a cable lies. Common practice, no source.
const CUT_ALLOWANCE_SHARE: f64 = 0.03;
/// Cuts are given in whole steps of this many metres.
const CUT_STEP: f64 = 0.010;

/// How long to cut a cable that is to be `fitted` long: 3 % more, or 50 mm where that is more, rounded up to a whole
/// centimetre. Common practice, no source.
pub fn cut_length(fitted: Length) -> Length {
    let allowance = (fitted.si() * CUT_ALLOWANCE_SHARE).max(CUT_ALLOWANCE_LEAST);
    // A whisker under a step must not round up a step further.
    Length::from_si(((fitted.si() + allowance) / CUT_STEP - 1e-6).ceil() * CUT_STEP)
}

/// The top-level keys whose values a text may show.
const SHOWN: &[&str] =
    &["title", "written", "system", "coldest", "vehicle", "zones", "parts", "every-run", "runs", "states", "endurance"];

impl Guide {
    /// A value of the front matter as people read it, in both unit systems; `None` when the path names none.
    ///
    /// A path is the keys from the top, with full stops between: `runs.main-return.length`,
    /// `parts.breaker.rating`, `zones.bay.ambient`, `states.engine-off.for`, `endurance.engine-off`, `system`. What
    /// `every-run` says of a run is found under the run. `runs.main-return.length` is how long the run is when fitted,
    /// `runs.main-return.cut-length` how long to cut it; a strap comes made to its length and has none.
    pub fn value(&self, path: &str) -> Option<String> {
        let keys: Vec<&str> = path.split('.').collect();
        match keys.as_slice() {
            ["runs", run, "length"] => return Some(self.runs.get(*run)?.length.value.show_both()),
            ["runs", run, "cut-length"] => {
                let run = self.runs.get(*run)?;
                return (!run.strap).then(|| cut_length(run.length.value).show_both());
            }
            ["runs", name, key] if self.front_matter.get("runs")?.get(name)?.get(key).is_none() => {
                let run = self.runs.get(*name)?;
                if run.strap && matches!(*key, "insulation" | "rated" | "covering") {
                    return None;
                }
                return self.value(&format!("every-run.{key}"));
            }
            [first, ..] if SHOWN.contains(first) => {}
            _ => return None,
        }
        let mut node = &self.front_matter;
        let mut table: Option<&'static Table> = Some(&keys::GUIDE);
        let mut takes: Option<&'static Takes> = None;
        for key in keys {
            let below = super::read::takes_of(table?, key)?;
            node = node.get(key)?;
            takes = Some(below);
            table = match below {
                Takes::Map(table) => Some(table),
                _ => None,
            };
        }
        self.shown(node.text()?, takes?)
    }

    /// Every path that [`Guide::value`] knows, in the order of the front matter.
    pub fn value_paths(&self) -> Vec<String> {
        let mut paths = Vec::new();
        walk(&self.front_matter, &keys::GUIDE, "", &mut paths);
        for name in self.runs.keys() {
            let defaults = self.front_matter.get("every-run").and_then(Node::entries);
            let keys = defaults.into_iter().flat_map(|e| e.keys().map(String::as_str));
            for key in ["length", "cut-length"].into_iter().chain(keys) {
                let path = format!("runs.{name}.{key}");
                if !paths.contains(&path) {
                    paths.push(path);
                }
            }
        }
        paths.retain(|path| self.value(path).is_some());
        paths
    }

    fn shown(&self, text: &str, takes: &'static Takes) -> Option<String> {
        match takes {
            Takes::Text | Takes::Word(_) | Takes::Count | Takes::Number | Takes::Date | Takes::Terminal => {
                Some(text.trim().to_owned())
            }
            Takes::Quantity(quantity) => (quantity.show)(text),
            Takes::TimeRange => time_range(text).ok().map(|(a, b)| format!("{} to {}", a.show_both(), b.show_both())),
            Takes::Activity => match activity(text).ok()? {
                Activity::Takes(current) => Some(current.show_both()),
                Activity::Power(power) => Some(power.show_both()),
                Activity::Running | Activity::Cranking | Activity::Open | Activity::Closed => Some(text.to_owned()),
            },
            Takes::Name(Named::Zone) | Takes::OutsideOrZone => {
                Some(self.zones.get(text).map_or(text.to_owned(), |zone| zone.label.value.clone()))
            }
            _ => None,
        }
    }
}

/// Paths of every scalar. Keys with spaces or full stops in them cannot stand in a path.
fn walk(node: &Node, table: &'static Table, path: &str, paths: &mut Vec<String>) {
    let Value::Map(entries) = &node.value else { return };
    for (key, (_, below)) in entries {
        let free = table.others.as_ref().is_some_and(|o| matches!(o.key, KeyShape::Percentage | KeyShape::ZonePair));
        let Some(takes) = super::read::takes_of(table, key).filter(|_| !free && !key.contains('.')) else { continue };
        let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
        match takes {
            Takes::Map(table) => walk(below, table, &path, paths),
            _ => paths.push(path),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::SourceFile;

    #[test]
    fn a_cut_is_longer_than_what_is_fitted_and_whole_centimetres() {
        let cut = |metres: f64| (cut_length(Length::from_si(metres)).si() * 1000.0).round();
        assert_eq!(cut(0.25), 300.0);
        assert_eq!(cut(1.0), 1050.0);
        // 3 % is 50 mm at 1.67 m; from there on the share decides.
        assert_eq!(cut(5.0), 5150.0);
        assert_eq!(cut(1.001), 1060.0);
    }

    #[test]
    fn a_text_can_show_how_long_to_cut_a_run_but_not_a_strap() {
        let text = include_str!("../../tests/guides/design-example/guide.md");
        let guide = crate::guide::read(SourceFile::new("guide.md", text.to_owned()), "van").0.unwrap();
        let (name, run) = guide.runs.iter().find(|(_, run)| !run.strap).unwrap();
        let shown = guide.value(&format!("runs.{name}.cut-length")).unwrap();
        assert_eq!(shown, cut_length(run.length.value).show_both());
        let strap = guide.runs.iter().find(|(_, r)| r.strap).unwrap().0;
        assert_eq!(guide.value(&format!("runs.{strap}.cut-length")), None);
    }
}

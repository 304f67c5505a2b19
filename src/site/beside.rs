//! Files beside a guide's page: lists as CSV, netlists, and labels to print.

use serde::Serialize;

use super::lists::{self, csv};
use super::netlist::netlist;
use super::sheets::{Typesetter, Way};
use super::{Site, address};
use crate::checked::Checked;
use crate::circuit::Circuit;
use crate::guide::Guide;
use crate::study::{Joints, Warmth};

/// A label for one end of a cable.
#[derive(Serialize)]
struct Label {
    mark: String,
    name: String,
    size: String,
    here: String,
    there: String,
}

/// Writes the files, and gives their names for the page's list of downloads.
pub(super) fn write(
    setter: &Typesetter<'_>,
    one: &Checked,
    guide: &Guide,
    circuit: &Circuit,
    site: &mut Site,
) -> Vec<Way> {
    let words = &setter.words;
    let mut ways = Vec::new();
    let mut put = |site: &mut Site, key: &str, file: &str, text: String| {
        site.put(format!("{}/{file}", one.slug), &text);
        ways.push(Way { name: words.get(key).into(), href: file.into() });
    };

    let parts = lists::parts(circuit, guide, words);
    let header = [words.get("mark"), words.get("part"), words.get("what"), words.get("zone"), words.get("is_there")];
    let there = |is_there: bool| if is_there { words.get("is_there").to_string() } else { String::new() };
    let rows: Vec<Vec<String>> = parts
        .iter()
        .map(|row| vec![row.mark.clone(), row.name.clone(), row.what.clone(), row.zone.clone(), there(row.is_there)])
        .collect();
    put(site, "dl_parts", "parts.csv", csv(&header, &rows));

    let cuts = lists::cuts(circuit, guide, words);
    let header = [
        words.get("mark"),
        words.get("run"),
        words.get("size"),
        words.get("colour"),
        words.get("make"),
        words.get("cut_at"),
        words.get("cut_metres"),
        words.get("fit_at_most"),
        words.get("from_end"),
        words.get("from_lug"),
        words.get("to_end"),
        words.get("to_lug"),
    ];
    let rows: Vec<Vec<String>> = cuts
        .iter()
        .map(|row| {
            let end = |end: &lists::End| format!("{} {}", end.part, end.terminal).trim().to_string();
            vec![
                row.mark.clone(),
                row.name.clone(),
                row.size.clone(),
                row.colour.clone(),
                row.make.clone(),
                if row.is_there { there(true) } else { row.cut.clone() },
                if row.is_there { String::new() } else { format!("{:.2}", row.cut_m) },
                row.run.clone(),
                end(&row.from),
                row.from.lug.clone(),
                end(&row.to),
                row.to.lug.clone(),
            ]
        })
        .collect();
    put(site, "dl_cuts", "cuts.csv", csv(&header, &rows));

    let used = lists::consumables(circuit, guide, &lists::unprotected(one, circuit), words);
    let header = [words.get("what"), words.get("amount"), words.get("how_counted")];
    let rows: Vec<Vec<String>> =
        used.iter().map(|row| vec![row.what.clone(), row.amount.clone(), row.counted.clone()]).collect();
    put(site, "dl_used", "used.csv", csv(&header, &rows));

    let labels: Vec<Label> = cuts
        .iter()
        .filter(|row| !row.strap && !row.is_there)
        .flat_map(|row| {
            let label = |here: &lists::End, there: &lists::End| Label {
                mark: row.mark.clone(),
                name: row.name.clone(),
                size: format!("{} {}", row.size, row.colour).trim().to_string(),
                here: format!("{} {}", here.part, here.terminal).trim().to_string(),
                there: words.fill("labels_from", &[("part", &there.part), ("terminal", &there.terminal)]).trim().into(),
            };
            [label(&row.from, &row.to), label(&row.to, &row.from)]
        })
        .collect();
    setter.page(
        "sheets/labels.html",
        &format!("{}/labels.html", one.slug),
        &format!("{}: {}", words.get("labels"), guide.title.value),
        words.get("labels_lead"),
        |context| {
            context.insert("labels", &labels);
            context.insert("guide_title", &guide.title.value);
        },
        site,
    );
    for state in one.study.iter().flat_map(|study| &study.states) {
        let Some(case) = state.at(Warmth::Cool, Joints::Best, state.main_charge()).next() else { continue };
        let of_it = &circuit.states[state.state.0];
        if let Some(text) = netlist(circuit, state.state, case, &guide.title.value) {
            let file = format!("circuit-{}.cir", address::slug(&of_it.name));
            site.put(format!("{}/{file}", one.slug), &text);
            let label = lists::name(&of_it.label, &of_it.name);
            ways.push(Way { name: words.fill("dl_netlist", &[("state", &label)]), href: file });
        }
    }
    ways.push(Way { name: words.get("dl_labels").into(), href: "labels.html".into() });
    ways
}

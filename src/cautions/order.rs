//! In which order the author's steps do the work: where the batteries are dead, and where they go on again.
//!
//! Rests on links and on the rule that watches the return (`return-not-last`); words only help where links do not tell.

use super::acts::{self, Act};
use crate::circuit::{Circuit, Kind, PartId, RunId};
use crate::guide::{Block, Guide, Step, Target};
use crate::rules::return_not_last::off_and_on;

/// Where a step stands in the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Up to the step that takes the return off, and at it.
    Before,
    /// With the return off.
    Dead,
    /// Where the batteries go on.
    Power,
    /// With the batteries on.
    Live,
}

/// Where the steps take the returns off and put them on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkOrder {
    /// The step that takes the first return off.
    pub off: usize,
    /// The first step of the stretch in which the batteries go on: of the section with the first return that goes on, or
    /// where no heading parts the steps, that step.
    pub first_power: usize,
    /// The step that puts the last return on.
    pub on: usize,
}

impl WorkOrder {
    /// Reads a guide's order; nothing where it takes no return off, leaves a battery's off, or has it on before it is off.
    pub fn of(guide: &Guide, circuit: &Circuit) -> Option<WorkOrder> {
        let found = off_and_on(guide, circuit);
        let off = found.off?;
        let mut first = None;
        for (_, on) in &found.on {
            let at = *on.first()?;
            first = Some(first.map_or(at, |earlier: usize| earlier.min(at)));
        }
        let first = first.filter(|first| off < *first)?;
        // Returns come off and go on again while fuses are fitted; what a later section tightens is no first power.
        let sections = sections(guide);
        let with =
            |at: usize| sections.iter().copied().find(|(start, end)| *start <= at && at <= *end).unwrap_or((at, at));
        let last = found.on.iter().filter_map(|(_, on)| {
            let (_, end) = with(*on.first()?);
            on.iter().copied().filter(|at| *at <= end).max()
        });
        let on = last.max()?;
        let start = if sections.len() < 2 { first } else { with(first).0 };
        Some(WorkOrder { off, first_power: start.max(off + 1), on })
    }

    /// Where a step stands.
    pub fn stage(&self, step: usize) -> Stage {
        if step <= self.off {
            Stage::Before
        } else if step < self.first_power {
            Stage::Dead
        } else if step <= self.on {
            Stage::Power
        } else {
            Stage::Live
        }
    }
}

/// The first and the last step under each heading.
fn sections(guide: &Guide) -> Vec<(usize, usize)> {
    let mut all: Vec<(usize, usize)> = Vec::new();
    let mut under_new = true;
    for block in &guide.text.blocks {
        match block {
            Block::Prose(at) => under_new |= guide.file.at(*at).lines().any(|line| line.starts_with('#')),
            Block::Step(step) => match all.last_mut() {
                Some(section) if !under_new => section.1 = step.number,
                _ => {
                    all.push((step.number, step.number));
                    under_new = false;
                }
            },
        }
    }
    all
}

/// A step with what it does, as far as its links and words tell.
#[derive(Clone, Debug)]
pub struct Done {
    /// Its number.
    pub number: usize,
    /// Where it stands; nothing where the guide's order is not known.
    pub stage: Option<Stage>,
    /// Parts that it links.
    pub parts: Vec<PartId>,
    /// Runs that it links.
    pub runs: Vec<RunId>,
    /// Parts that it links or calls by their name.
    pub named: Vec<PartId>,
    /// What its words tell of.
    pub acts: Vec<Act>,
}

impl Done {
    /// Whether its words tell of an act.
    pub fn tells(&self, act: Act) -> bool {
        self.acts.contains(&act)
    }

    /// Whether it stands in one of these stages. A step of an unknown stage may stand in any.
    pub fn is_in(&self, stages: &[Stage]) -> bool {
        self.stage.is_none_or(|stage| stages.contains(&stage))
    }

    /// Whether it certainly stands in a stage.
    pub fn stands_in(&self, stage: Stage) -> bool {
        self.stage == Some(stage)
    }

    /// Whether it links nothing of the circuit.
    pub fn links_nothing(&self) -> bool {
        self.parts.is_empty() && self.runs.is_empty()
    }

    /// Whether nothing is handled: it only reads, looks, or cuts to length.
    pub fn only_looks(&self) -> bool {
        let looks = |act: &Act| matches!(act, Act::Look | Act::Cut);
        self.acts.iter().any(looks)
            && self.acts.iter().all(|act| looks(act) || matches!(act, Act::HoldDown | Act::Stopped))
    }
}

/// Every step with what it does.
pub fn done(guide: &Guide, circuit: &Circuit, order: Option<&WorkOrder>) -> Vec<Done> {
    guide.text.steps().map(|step| one(guide, circuit, order, step)).collect()
}

fn one(guide: &Guide, circuit: &Circuit, order: Option<&WorkOrder>, step: &Step) -> Done {
    let parts: Vec<PartId> = step
        .links
        .iter()
        .filter_map(|link| match &link.target {
            Target::Part(name) => circuit.part_named(name),
            Target::Run(_) => None,
        })
        .collect();
    let runs = step.links.iter().filter_map(|link| match &link.target {
        Target::Run(name) => circuit.run_named(name),
        Target::Part(_) => None,
    });
    let own = acts::own_words(guide, step);
    let mut named = parts.clone();
    for (i, part) in circuit.parts.iter().enumerate() {
        if !named.contains(&PartId(i)) && !matches!(part.kind, Kind::Body(_) | Kind::Engine(_)) {
            let kind = guide.parts.get(&part.name).map_or("", |written| written.kind.word());
            if own.iter().flatten().any(|word| acts::names(word, kind)) {
                named.push(PartId(i));
            }
        }
    }
    Done {
        number: step.number,
        stage: order.map(|order| order.stage(step.number)),
        parts,
        runs: runs.collect(),
        named,
        acts: acts::of(&own),
    }
}

/// Fuses and breakers that the job is about: those that a step handles after the return is off, and does not only look at.
/// Where no step links any, all that are not on the vehicle already.
pub fn touched(guide: &Guide, circuit: &Circuit, order: Option<&WorkOrder>) -> Vec<PartId> {
    let done = done(guide, circuit, order);
    let is_device = |part: &PartId| matches!(circuit.part(*part).kind, Kind::Protector(_));
    let handled = |part: &PartId| {
        done.iter().any(|step| !step.stands_in(Stage::Before) && !step.only_looks() && step.parts.contains(part))
    };
    let all: Vec<PartId> = (0..circuit.parts.len()).map(PartId).filter(is_device).collect();
    let by_steps: Vec<PartId> = all.iter().copied().filter(handled).collect();
    if !by_steps.is_empty() {
        return by_steps;
    }
    let is_new = |part: &PartId| guide.parts.get(&circuit.part(*part).name).is_none_or(|written| !written.existing);
    all.into_iter().filter(is_new).collect()
}

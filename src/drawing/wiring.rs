//! The wiring drawing: an arranged circuit set down on its sheets.
//!
//! Decides nothing: every place was settled before.

use super::label::{self, Face, LEADING, TEXT_MM};
use super::model::{Diagram, Home, WireId};
use super::route::{self, Layout, PART_GAP};
use super::search::Arranged;
use super::sheet::{self, Page, Used, baseline, colour, room, stroke};
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, PartBox, RunPath, Stroke};
use super::symbols::{self, REACH, Symbol};

/// Draws one sheet's part of an arranged circuit; the sheet's upper edge is `page.number` sheets down.
pub fn draw(canvas: &mut Canvas, arranged: &Arranged, page: Page) {
    let room = room();
    let Arranged { diagram, layout, .. } = arranged;
    let scale = layout.scale(room);
    let corner = sheet::corner(page.number);
    let left = corner.0 + (room.width - layout.width * scale) / 2.0;
    let top = corner.1 + (room.height - layout.height * scale) / 2.0;
    canvas.frame(scale, left, top);
    bands(canvas, diagram, layout);
    parts(canvas, diagram, layout);
    runs(canvas, diagram, layout);
    let spacing = route::LANE * scale;
    let so_far = canvas.geometry.spacing;
    canvas.geometry.spacing = if page.number == 0 { spacing } else { so_far.min(spacing) };
    canvas.geometry.crossings += layout.crossings;
}

/// What the legend beside it must explain.
pub fn used(arranged: &Arranged) -> Used {
    Used::of(&arranged.diagram)
}

fn bands(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("zones", "Zones, front to rear");
    let last = diagram.bands.len();
    for (band, name) in diagram.bands.iter().enumerate() {
        let (x0, x1) = (layout.walls[band], layout.walls[band + 1]);
        let words = label::shorten(name, Face::Bold, TEXT_MM, x1 - x0 - 2.0);
        canvas.text(
            ((x0 + x1) / 2.0, baseline(1.0, 0, TEXT_MM)),
            Anchor::Middle,
            Lettering::ink(Face::Bold, TEXT_MM),
            &words,
        );
        if band + 1 < last {
            let thin = Stroke { colour: PALE, weight: 0.25, dashes: &[6.0, 1.0, 0.8, 1.0] };
            // Not through the body's name.
            canvas.line(&[(x1, 0.0), (x1, layout.foot.map_or(layout.height, |foot| foot.y))], thin);
        }
    }
    canvas.line(&[(0.0, layout.head - 0.6), (layout.width, layout.head - 0.6)], Stroke::solid(PALE, 0.25));
    canvas.close();
}

fn parts(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("parts", "Parts");
    for (item, at) in diagram.items.iter().zip(&layout.items) {
        canvas.open("part", &item.label.join(" "));
        let half = item.symbol.half_width();
        let edge = if item.bar {
            let (x0, x1) = at.bar;
            match item.symbol {
                Symbol::Engine => {
                    canvas.boxed(x0, at.y - 1.2, x1, at.y + 1.2, Stroke::solid(INK, 0.5), "#d9d9d9");
                }
                Symbol::Onward => item.symbol.draw(canvas, at.x, at.y),
                Symbol::Busbar => canvas.line(&[(x0, at.y), (x1, at.y)], Stroke::solid(INK, 1.8)),
                _ => canvas.line(&[(x0, at.y), (x1, at.y)], Stroke::solid(INK, 1.0)),
            }
            let area = canvas.area(x0, at.y - 1.2, x1, at.y + 1.2);
            canvas.geometry.parts.push(PartBox {
                name: item.name.clone(),
                nodes: item.terms.iter().map(|t| t.node.0).collect(),
                area,
            });
            x1
        } else {
            item.symbol.draw(canvas, at.x, at.y);
            let area = canvas.area(at.x - half, at.y - REACH, at.x + half, at.y + REACH);
            canvas.geometry.parts.push(PartBox {
                name: item.name.clone(),
                nodes: item.terms.iter().map(|t| t.node.0).collect(),
                area,
            });
            for term in &item.terms {
                if let Some(positive) = term.sign {
                    let up = term.home == Home::Top;
                    let x = at.x + f64::from(term.dx) * super::model::GRID;
                    let side = if term.dx < 0 { -1.5 } else { 1.5 };
                    symbols::sign(canvas, x + side, if up { at.y - 5.1 } else { at.y + 5.1 }, positive);
                }
            }
            at.x + half
        };
        let lines = item.label.len();
        let y = at.y - lines as f64 * LEADING * TEXT_MM / 2.0;
        for (k, words) in item.label.iter().enumerate() {
            let face = if k + 1 == lines && item.figure { Face::Regular } else { Face::Bold };
            canvas.text(
                (edge + PART_GAP, baseline(y, k, TEXT_MM)),
                Anchor::Start,
                Lettering::ink(face, TEXT_MM),
                words,
            );
        }
        canvas.close();
    }
    for (x, y) in &layout.frames {
        symbols::frame(canvas, *x, *y);
    }
    if let (Some((_, name, words)), Some(foot)) = (&diagram.body, layout.foot) {
        canvas.open("part", words);
        let (x0, x1) = foot.x;
        canvas.line(&[(x0, foot.y), (x1, foot.y)], Stroke::solid(INK, 1.0));
        let words = label::shorten(&format!("{} {words}", diagram.body_tag), Face::Bold, TEXT_MM, x1 - x0 - 8.0);
        let wide = label::width(&words, Face::Bold, TEXT_MM);
        let hatch = Stroke::solid(INK, 0.35);
        let mut x = x0 + 2.0;
        while x < x1 {
            // The hatch leaves the words clear.
            if x < x0 + 4.0 || x > x0 + 8.0 + wide {
                canvas.line(&[(x, foot.y), (x - 1.6, foot.y + 2.4)], hatch);
            }
            x += 2.4;
        }
        canvas.text(
            (x0 + 5.0, baseline(foot.y + 1.0, 0, TEXT_MM)),
            Anchor::Start,
            Lettering::ink(Face::Bold, TEXT_MM),
            &words,
        );
        let area = canvas.area(x0, foot.y - 0.5, x1, foot.y + 0.5);
        canvas.geometry.parts.push(PartBox {
            name: name.clone(),
            nodes: diagram.body_nodes.iter().map(|n| n.0).collect(),
            area,
        });
        canvas.close();
    }
    canvas.close();
}

fn runs(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("runs", "Runs");
    for joint in &layout.joints {
        canvas.line(&joint.points, Stroke::solid(colour(joint.kind), joint.weight));
    }
    for (w, (wire, at)) in diagram.wires.iter().zip(&layout.wires).enumerate() {
        canvas.open("run", &wire.title);
        // Each stem is drawn once for all the lines that share it.
        let from = at.stems[0].saturating_sub(1);
        let to = at.points.len() - at.stems[1].saturating_sub(1);
        canvas.line(&at.points[from..to], stroke(wire.kind, wire.weight));
        let points: Vec<(f64, f64)> = at.points.iter().map(|p| canvas.at(*p)).collect();
        let weight = canvas.area(0.0, 0.0, wire.weight, 0.0);
        canvas.geometry.runs.push(RunPath {
            name: match wire.id {
                WireId::Run(_) => wire.name.clone(),
                WireId::Bolt(_) => format!("{} (bolted)", wire.name),
            },
            points,
            stems: at.stems,
            weight: weight.x1 - weight.x0,
            ends: [wire.nodes[0].0, wire.nodes[1].0],
        });
        if let Some(label) = layout.labels.iter().find(|l| l.wire == w) {
            for (k, words) in wire.label.iter().enumerate() {
                canvas.text(
                    (label.x, baseline(label.y, k, TEXT_MM)),
                    Anchor::Start,
                    Lettering::ink(Face::Regular, TEXT_MM),
                    words,
                );
            }
        }
        canvas.close();
    }
    for ((x, y), kind) in &layout.dots {
        canvas.dot(*x, *y, 0.9, colour(*kind));
    }
    canvas.close();
}

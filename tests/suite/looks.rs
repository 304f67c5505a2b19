//! Whether drawings can be read by everybody: contrast, greyscale, and eyes that lack a kind of cone.
//!
//! The judge knows nothing of the program's colours: it reads the SVGs and works out what lies under every word and line.

use std::collections::{BTreeMap, BTreeSet};

use goodground::drawing::{self, Picture};
use roxmltree::Node;

use super::drawings::demo_guides;

/// Red, green, blue, each from 0 to 1, in linear light.
type Light = [f64; 3];

/// A colour's light: the sRGB curve as WCAG 2.2 has it under “relative luminance” (W3C Recommendation, 5 October 2023).
fn light(colour: &str) -> Light {
    let hex = colour.strip_prefix('#').unwrap_or_else(|| panic!("`{colour}` is not written as #rrggbb"));
    [0, 2, 4].map(|at| {
        let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    })
}

/// WCAG 2.2, “relative luminance”.
fn luminance([r, g, b]: Light) -> f64 {
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// WCAG 2.2, “contrast ratio”.
fn contrast(a: Light, b: Light) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Eyes, and what they make of light. Greyscale is a printer's: luminance alone. The three matrices are those of
/// G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, “A Physiologically-based Model for Simulation of Color Vision
/// Deficiency”, IEEE TVCG 15 (2009) 1291–1298, severity 1.0, on linear light. Not copied from the paper: they were read in
/// several public programs that cite it and agree with one another to the last digit.
const EYES: [(&str, [[f64; 3]; 3]); 5] = [
    ("all three cones", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    ("greyscale", [[0.2126, 0.7152, 0.0722]; 3]),
    ("protanopia", [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    (
        "deuteranopia",
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    ),
    ("tritanopia", [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
];

fn seen(matrix: &[[f64; 3]; 3], light: Light) -> Light {
    matrix.map(|row| row.iter().zip(light).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0))
}

/// The least contrast of two colours over all eyes, and whose.
fn least_contrast(a: &str, b: &str) -> (f64, &'static str) {
    let all = EYES.iter().map(|(eyes, m)| (contrast(seen(m, light(a)), seen(m, light(b))), *eyes));
    all.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
}

#[test]
fn the_formulas_give_what_is_known_of_them() {
    assert!((contrast(light("#000000"), light("#ffffff")) - 21.0).abs() < 1e-9, "WCAG 2.2: black on white is 21:1");
    // The lightest grey that passes for text on white, as every table has it (common practice, no source).
    assert!(contrast(light("#767676"), light("#ffffff")) >= 4.5 && contrast(light("#777777"), light("#ffffff")) < 4.5);
    for (eyes, matrix) in EYES {
        for grey in ["#ffffff", "#808080", "#000000"] {
            let off =
                seen(&matrix, light(grey)).iter().zip(light(grey)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            assert!(off < 2e-6, "{eyes}: a grey stays the grey it is; {grey} is off by {off}");
        }
    }
}

/// A filled area: its outline, and its colour.
struct Area {
    corners: Vec<Vec<(f64, f64)>>,
    colour: String,
}

impl Area {
    /// Whether a point is inside: how often a line from it to the right crosses the outline.
    fn holds(&self, (x, y): (f64, f64)) -> bool {
        let crossings = self.corners.iter().flat_map(|ring| {
            (0..ring.len()).filter(move |i| {
                let (a, b) = (ring[*i], ring[(*i + 1) % ring.len()]);
                (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0)
            })
        });
        crossings.count() % 2 == 1
    }
}

/// The corners of a path of straight stretches; a curve counts as its chord, a half-circle as its diameter.
fn rings(d: &str) -> Vec<Vec<(f64, f64)>> {
    let mut out: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut at = (0.0, 0.0);
    let mut rest = d;
    while let Some(letter) = rest.chars().next() {
        let end = rest[1..].find(|c: char| c.is_ascii_alphabetic()).map_or(rest.len(), |i| i + 1);
        let n: Vec<f64> = rest[1..end].split_whitespace().map(|n| n.parse().unwrap()).collect();
        match letter {
            'M' | 'L' | 'C' | 'A' => at = (n[n.len() - 2], n[n.len() - 1]),
            'h' => at.0 += n[0],
            'v' => at.1 += n[0],
            'Z' | 'z' => {}
            other => panic!("a path with `{other}`: teach the judge to read it"),
        }
        if letter == 'M' {
            out.push(Vec::new());
        }
        if !"Zz".contains(letter) {
            out.last_mut().unwrap().push(at);
        }
        rest = &rest[end..];
    }
    out
}

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).map_or(0.0, |v| v.parse().unwrap())
}

/// Everything on a picture that is too faint, in words; lines that only guide the eye are let pass and counted.
fn faint(picture: &Picture, guiding: &mut usize) -> Vec<String> {
    let document = roxmltree::Document::parse(&picture.svg).unwrap();
    let mut areas: Vec<Area> = Vec::new();
    let mut wrong = BTreeSet::new();
    for node in document.descendants().filter(Node::is_element) {
        let under = |areas: &[Area], p: (f64, f64)| {
            areas.iter().rev().find(|a| a.holds(p)).map_or("#ffffff".to_owned(), |a| a.colour.clone())
        };
        let corners = match node.tag_name().name() {
            "rect" => {
                let (x, y) = (number(node, "x"), number(node, "y"));
                let (w, h) = (number(node, "width"), number(node, "height"));
                vec![vec![(x, y), (x + w, y), (x + w, y + h), (x, y + h)]]
            }
            "circle" => {
                let (x, y, r) = (number(node, "cx"), number(node, "cy"), number(node, "r"));
                let turn = |k: i32| f64::from(k).to_radians() * 15.0;
                vec![(0..24).map(|k| (x + r * turn(k).cos(), y + r * turn(k).sin())).collect()]
            }
            "path" => rings(node.attribute("d").unwrap()),
            "text" => {
                let (x, y, wide) = (number(node, "x"), number(node, "y"), number(node, "textLength"));
                let size = number(node, "font-size");
                let ink = node.attribute("fill").unwrap();
                for share in [0.02, 0.25, 0.5, 0.75, 0.98] {
                    for up in [0.0, 0.35, 0.7] {
                        let paper = under(&areas, (x + share * wide, y - up * size));
                        let (ratio, eyes) = least_contrast(ink, &paper);
                        // WCAG 2.2, 1.4.3: 4.5:1 for text of less than 18 pt.
                        if ratio < 4.5 {
                            let words: String = node.descendants().filter_map(|n| n.text()).collect();
                            wrong.insert(format!("“{words}”, {ink} on {paper}: {ratio:.2} ({eyes})"));
                        }
                    }
                }
                continue;
            }
            _ => continue,
        };
        let fill = node.attribute("fill").filter(|fill| *fill != "none");
        if let Some(stroke) = node.attribute("stroke") {
            // WCAG 2.2, 1.4.11: 3:1 for what one must see to understand a picture, against what lies beside it.
            for ring in &corners {
                for pair in ring.windows(2) {
                    for share in [0.25, 0.5, 0.75] {
                        let p = |a: f64, b: f64| a + share * (b - a);
                        let paper = under(&areas, (p(pair[0].0, pair[1].0), p(pair[0].1, pair[1].1)));
                        let (ratio, eyes) = least_contrast(stroke, &paper);
                        if stroke == GUIDING && paper == "#ffffff" {
                            *guiding += 1;
                        } else if ratio < 3.0 && stroke != paper {
                            // (A lead that goes on inside a filled shape of its own colour tells nothing.)
                            wrong.insert(format!("a line, {stroke} on {paper}: {ratio:.2} ({eyes})"));
                        }
                    }
                }
            }
        } else if let Some(fill) = fill
            && least_contrast(fill, "#ffffff").0 < 3.0
            && !FRAMED.contains(&fill)
        {
            wrong.insert(format!("an area, {fill}, without an outline"));
        }
        if let Some(fill) = fill {
            areas.push(Area { corners, colour: fill.to_owned() });
        }
    }
    wrong.into_iter().map(|w| format!("{}: {w}", picture.name)).collect()
}

/// The lines of a plot's grid: every place on them can be read off the axes' figures and the frame too, so that they
/// need no contrast (WCAG 2.2, 1.4.11 asks it of what is required to understand).
const GUIDING: &str = "#cccccc";

/// Faint areas whose edge is drawn by lines of ink that follow: paper itself, the band of a device, the sign of warning.
const FRAMED: [&str; 3] = ["#ffffff", "#c9c9c9", "#f2a100"];

/// Every picture of the club's guides, and the sheet of symbols.
fn pictures() -> Vec<(String, Picture)> {
    let mut out = vec![("trade words".to_owned(), drawing::symbol_sheet())];
    for (name, guide, circuit) in demo_guides() {
        let study = goodground::study::study(&circuit);
        let (variants, _) = goodground::trials::variant::variants(&guide, &goodground::rules::limits::NONE);
        let drawn = [drawing::wiring(&guide, &circuit), drawing::plan(&guide, &circuit)].into_iter();
        let plots = [
            drawing::plots::volts(&guide, &circuit, &study, &variants),
            drawing::plots::opening(&guide, &circuit, &study),
            drawing::plots::chafe(&guide, &circuit, &study),
        ];
        out.extend(drawn.chain(plots.into_iter().flatten()).map(|picture| (name.clone(), picture)));
    }
    out
}

#[test]
fn every_word_and_line_stands_out_from_what_is_under_it() {
    let mut guiding = 0;
    let all: Vec<String> = pictures()
        .iter()
        .flat_map(|(guide, picture)| faint(picture, &mut guiding).into_iter().map(move |w| format!("{guide}: {w}")))
        .collect();
    assert!(all.is_empty(), "{}", all.join("\n"));
    assert!(guiding > 0, "the plots have no grid any more: GUIDING can go");
}

#[test]
fn the_judge_of_contrast_can_object() {
    let (_, mut picture) = pictures().swap_remove(1);
    assert!(faint(&picture, &mut 0).is_empty());
    for (from, to) in [("fill=\"#1a1a1a\"", "fill=\"#8a8a8a\""), ("stroke=\"#a3161a\"", "stroke=\"#f0b0b0\"")] {
        let good = picture.svg.clone();
        picture.svg = good.replacen(from, to, 3);
        assert_ne!(picture.svg, good);
        assert!(!faint(&picture, &mut 0).is_empty(), "{to} was let through");
        picture.svg = good;
    }
}

/// How a dash pattern looks, apart from its scale: lengths in tenths of its first dash.
fn rhythm(dashes: &str) -> Vec<i64> {
    let lengths: Vec<f64> = dashes.split_whitespace().map(|d| d.parse().unwrap()).collect();
    lengths.iter().map(|d| (10.0 * d / lengths[0]).round() as i64).collect()
}

#[test]
fn kinds_of_line_differ_by_more_than_colour() {
    use goodground::drawing::model::LineKind::{Bolted, Feed, Loose, Return, Strap};
    let kinds = [Feed, Return, Loose, Strap, Bolted];
    for (i, a) in kinds.iter().enumerate() {
        for b in &kinds[..i] {
            let [a, b] = [*a, *b].map(|kind| drawing::sheet::stroke(kind, 1.0));
            let apart = |s: goodground::drawing::svg_out::Stroke| {
                rhythm(&s.dashes.iter().map(f64::to_string).collect::<Vec<_>>().join(" "))
            };
            assert_ne!(apart(a), apart(b), "told apart by colour alone");
        }
    }
}

#[test]
fn what_a_plot_tells_apart_by_colour_it_tells_apart_without() {
    let mut hatched = 0;
    for (guide, picture) in pictures() {
        let document = roxmltree::Document::parse(&picture.svg).unwrap();
        let paths: Vec<Node<'_, '_>> = document.descendants().filter(|n| n.has_tag_name("path")).collect();
        match picture.name {
            "volts" => {
                // Bars: those of one colour are plain; of another, each wide one is hatched.
                let mut plain: BTreeMap<&str, usize> = BTreeMap::new();
                for (at, bars) in paths.iter().enumerate() {
                    let Some(fill) = bars.attribute("fill") else { continue };
                    let wide = rings(bars.attribute("d").unwrap()).iter().any(|ring| {
                        let xs = ring.iter().map(|p| p.0);
                        xs.clone().fold(f64::MIN, f64::max) - xs.fold(f64::MAX, f64::min) > 20.0
                    });
                    let strokes = paths.get(at + 1).and_then(|next| next.attribute("stroke"));
                    if strokes == Some("#ffffff") {
                        hatched += 1;
                        assert_eq!(plain.get(fill), None, "{guide}: bars of {fill} are hatched here and plain there");
                    } else if wide {
                        *plain.entry(fill).or_default() += 1;
                    }
                }
                assert!(plain.len() <= 1, "{guide}: bars told apart by colour alone: {plain:?}");
            }
            "chafe" | "opening" => {
                // Lines that stand in one panel: no two of one width and one dash have two colours.
                let mut styles: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
                for path in paths.iter().filter(|p| p.has_attribute("stroke")) {
                    let get = |name: &str| path.attribute(name).unwrap_or("").to_owned();
                    let key = (get("stroke-width"), get("stroke-dasharray"));
                    styles.entry(key).or_default().insert(get("stroke"));
                }
                for ((width, dashes), colours) in styles {
                    assert!(colours.len() == 1, "{guide}, {}: {width} “{dashes}” in {colours:?}", picture.name);
                }
            }
            _ => {}
        }
    }
    assert!(hatched > 5, "only {hatched} hatched sets of bars were found");
}

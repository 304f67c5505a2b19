//! The number at the front of a quantity.

/// What stands where the number should.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Numeral {
    /// Digits that `f64` reads, with `-` before them where it is negative.
    Good(String),
    /// No digit at all.
    Missing,
    /// Digits that could be taken for more than one number, or are written in a way we do not read.
    Bad {
        /// What is wrong, after the quoted text: "has a decimal comma".
        why: &'static str,
        /// What may have been meant, likeliest first.
        meant: Vec<String>,
    },
}

impl Numeral {
    fn bad(why: &'static str, meant: impl IntoIterator<Item = String>) -> Numeral {
        Numeral::Bad { why, meant: meant.into_iter().collect() }
    }
}

const VULGAR: &[(char, f64)] =
    &[('½', 0.5), ('¼', 0.25), ('¾', 0.75), ('⅛', 0.125), ('⅜', 0.375), ('⅝', 0.625), ('⅞', 0.875)];

/// Splits a number from the front of a text. What is left has no space before it.
pub(super) fn split(text: &str) -> (Numeral, &str) {
    let text = text.trim_start();
    if let Some(rest) = text.strip_prefix(['~', '≈', '<', '>', '≤', '≥', '±']) {
        let (_, rest) = split(rest);
        return (Numeral::bad("is not one plain figure", []), rest);
    }
    let (sign, unsigned) = match text.chars().next() {
        Some('-' | '−') => ("-", text[text.chars().next().map_or(0, char::len_utf8)..].trim_start()),
        Some('+') => ("", text[1..].trim_start()),
        Some(dash @ ('–' | '—')) => {
            let (inner, rest) = split(&text[dash.len_utf8()..]);
            let meant = match inner {
                Numeral::Good(digits) => vec![format!("-{digits}")],
                _ => vec![],
            };
            return (Numeral::bad("begins with a dash that is not a minus", meant), rest);
        }
        _ => ("", text),
    };
    let end = unsigned.find(|c: char| !(c.is_ascii_digit() || is_mark(c))).unwrap_or(unsigned.len());
    let token = &unsigned[..end];
    if !token.contains(|c: char| c.is_ascii_digit()) {
        let word: String = unsigned.trim_start_matches('.').chars().take_while(|c| c.is_alphabetic()).collect();
        if ["nan", "inf", "infinity"].contains(&word.to_ascii_lowercase().as_str()) {
            let rest = unsigned.trim_start_matches('.')[word.len()..].trim_start();
            return (Numeral::bad("is not a number", []), rest);
        }
        if let Some((_, value)) = VULGAR.iter().find(|(c, _)| unsigned.starts_with(*c)) {
            let rest = unsigned.chars().next().map_or(unsigned, |c| &unsigned[c.len_utf8()..]).trim_start();
            return (Numeral::bad("has a fraction", [format!("{sign}{value}")]), rest);
        }
        return (Numeral::Missing, text);
    }
    // A prime after feet, an apostrophe after the last digit: not part of the number.
    let kept = token.trim_end_matches(['\'', '’', '\u{202f}', '\u{2009}']);
    let rest = unsigned[kept.len()..].trim_start();
    let numeral = plain(kept);
    let numeral = match numeral {
        Numeral::Good(digits) => continued(digits, rest),
        Numeral::Bad { why, meant } => (Numeral::Bad { why, meant }, rest),
        Numeral::Missing => (Numeral::Missing, rest),
    };
    let (numeral, rest) = numeral;
    let signed = |digits: String| if digits.starts_with('-') { digits } else { format!("{sign}{digits}") };
    let numeral = match numeral {
        Numeral::Good(digits) => Numeral::Good(signed(digits)),
        Numeral::Bad { why, meant } => Numeral::Bad { why, meant: meant.into_iter().map(signed).collect() },
        Numeral::Missing => Numeral::Missing,
    };
    (numeral, rest)
}

/// What people put between digits.
fn is_mark(c: char) -> bool {
    matches!(c, '.' | ',' | '\'' | '’' | '_' | '·' | '\u{202f}' | '\u{2009}')
}

/// Digits with whatever stands between them.
fn plain(token: &str) -> Numeral {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let grouped = |parts: &[&str]| {
        parts.len() > 1
            && (1..=3).contains(&parts[0].len())
            && digits(parts[0])
            && parts[1..].iter().all(|part| part.len() == 3 && digits(part))
    };
    if digits(token) {
        return Numeral::Good(token.to_string());
    }
    if let Some((whole, fraction)) = token.split_once('.') {
        if digits(fraction) && (digits(whole) || whole.is_empty()) {
            return Numeral::Good(format!("{}.{fraction}", if whole.is_empty() { "0" } else { whole }));
        }
        if digits(whole) && fraction.is_empty() {
            return Numeral::bad("ends in a point", [whole.to_string()]);
        }
    }
    let without: String = token.chars().filter(|c| !matches!(c, '\'' | '’' | '_' | '\u{202f}' | '\u{2009}')).collect();
    if without != token {
        return Numeral::bad(
            "has a mark between its digits",
            match plain(&without) {
                Numeral::Good(digits) => vec![digits],
                Numeral::Bad { meant, .. } => meant,
                Numeral::Missing => vec![],
            },
        );
    }
    if let Some((whole, fraction)) = token.split_once('·')
        && digits(whole)
        && digits(fraction)
    {
        return Numeral::bad("has a raised point", [format!("{whole}.{fraction}")]);
    }
    let commas: Vec<&str> = token.split(',').collect();
    let points: Vec<&str> = token.split('.').collect();
    match (commas.len(), points.len()) {
        (2, 1) if grouped(&commas) && commas[0] != "0" => Numeral::bad(
            "has a comma that can be read two ways",
            [format!("{}{}", commas[0], commas[1]), format!("{}.{}", commas[0], commas[1])],
        ),
        (2, 1) if digits(commas[0]) && digits(commas[1]) => {
            Numeral::bad("has a decimal comma", [format!("{}.{}", commas[0], commas[1])])
        }
        (3.., 1) if grouped(&commas) => Numeral::bad("has commas between its thousands", [commas.concat()]),
        (1, 3..) if grouped(&points) => Numeral::bad("has points between its thousands", [points.concat()]),
        (2.., 2) if grouped(&points[0].split(',').collect::<Vec<_>>()) && digits(points[1]) => {
            Numeral::bad("has commas between its thousands", [token.replace(',', "")])
        }
        (2, 2..) if grouped(&commas[0].split('.').collect::<Vec<_>>()) && digits(commas[1]) => Numeral::bad(
            "has points between its thousands and a decimal comma",
            [format!("{}.{}", commas[0].replace('.', ""), commas[1])],
        ),
        _ => Numeral::bad("is not a number", []),
    }
}

/// A good number may go on in ways that change it: `1 200`, `1/2`, `4 1/2`, `1e3`, `4-5`, `4½`.
fn continued(digits: String, rest: &str) -> (Numeral, &str) {
    let run = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let whole = !digits.contains('.');
    if let Some(denominator) = rest.strip_prefix('/')
        && whole
    {
        let n = run(denominator);
        let value = divide(&digits, &denominator[..n]);
        return (Numeral::bad("has a fraction", value.map(|v| v.to_string())), denominator[n..].trim_start());
    }
    if let Some((c, value)) = VULGAR.iter().find(|(c, _)| rest.starts_with(*c)) {
        let total = digits.parse::<f64>().ok().filter(|_| whole).map(|w| (w + value).to_string());
        return (Numeral::bad("has a fraction", total), rest[c.len_utf8()..].trim_start());
    }
    if let Some(power) = rest.strip_prefix(['e', 'E']) {
        let signed = power.strip_prefix(['-', '+']).unwrap_or(power);
        let n = run(signed);
        if n > 0 {
            let end = power.len() - signed.len() + n;
            let value: Option<f64> = format!("{digits}e{}", &power[..end]).parse().ok();
            // Only powers that somebody would write out.
            let meant = value.filter(|v| v.is_finite() && *v < 1e9 && *v > 1e-6).map(|v| v.to_string());
            return (Numeral::bad("is written as a power of ten", meant), power[end..].trim_start());
        }
    }
    if let Some(second) = rest.strip_prefix(['-', '–', '—', '−', '…']).or_else(|| rest.strip_prefix("to ")) {
        let second = second.trim_start();
        if second.starts_with(|c: char| c.is_ascii_digit()) {
            let (_, rest) = split(second);
            return (Numeral::bad("gives two figures where one is needed", []), rest);
        }
    }
    let n = run(rest);
    if n > 0 {
        let (next, after) = rest.split_at(n);
        if let Some(denominator) = after.strip_prefix('/') {
            let m = run(denominator);
            let total = divide(next, &denominator[..m])
                .zip(digits.parse::<f64>().ok().filter(|_| whole))
                .map(|(part, whole)| (whole + part).to_string());
            return (Numeral::bad("has a fraction", total), denominator[m..].trim_start());
        }
        let meant = (whole && next.len() == 3 && digits.len() <= 3).then(|| format!("{digits}{next}"));
        return (Numeral::bad("has a space inside its number", meant), after.trim_start());
    }
    (Numeral::Good(digits), rest)
}

fn divide(over: &str, under: &str) -> Option<f64> {
    let value = over.parse::<f64>().ok()? / under.parse::<f64>().ok()?;
    // Thirds and the like have no short decimal: to four places.
    value.is_finite().then_some((value * 1e4).round() / 1e4)
}

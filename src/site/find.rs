//! The index that the search page reads, built ahead of time.
//!
//! A word is looked up by its beginning, so an index of whole words without stemming is enough, in
//! any language. The index is a classic script, not JSON, because a page opened from disk may not
//! fetch.

use std::collections::BTreeMap;

/// One place that can be found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Address below the site's root, with its anchor.
    pub href: String,
    /// The page's title.
    pub page: String,
    /// The heading there.
    pub heading: String,
    /// Its words.
    pub text: String,
}

/// The index as a script that sets `self.findIndex`.
///
/// `spots` holds `[href, page, heading, first words]`; `words` maps each word to numbers, four times
/// the spot's place plus 3 for a word of its heading or page title and 1 for one of its text.
pub fn script(spots: &[Spot]) -> String {
    let mut words: BTreeMap<String, BTreeMap<usize, usize>> = BTreeMap::new();
    for (i, spot) in spots.iter().enumerate() {
        for (text, weight) in [(&spot.text, 1), (&spot.heading, 3), (&spot.page, 3)] {
            for word in split(text) {
                let held = words.entry(word).or_default().entry(i).or_insert(weight);
                *held = (*held).max(weight);
            }
        }
    }
    let words: BTreeMap<String, Vec<usize>> =
        words.into_iter().map(|(word, at)| (word, at.into_iter().map(|(i, w)| 4 * i + w).collect())).collect();
    let spots: Vec<[String; 4]> = spots
        .iter()
        .map(|spot| [spot.href.clone(), spot.page.clone(), spot.heading.clone(), beginning(&spot.text)])
        .collect();
    let json = serde_json::json!({ "spots": spots, "words": words });
    // `<` could end a script if somebody pasted this into a page.
    format!("self.findIndex={};\n", json.to_string().replace('<', "\\u003c"))
}

/// The words of a text, folded; single letters are left out, single digits are not.
pub fn split(text: &str) -> Vec<String> {
    let mut words = Vec::new();
    for word in text.split(|c: char| !c.is_alphanumeric()) {
        let folded: String = word.chars().flat_map(char::to_lowercase).flat_map(fold).collect();
        if 1 < folded.chars().count() || folded.chars().all(|c| c.is_ascii_digit()) && !folded.is_empty() {
            words.push(folded);
        }
    }
    words
}

/// A small letter without its accents, as the script folds what a reader types.
fn fold(c: char) -> Vec<char> {
    let plain = match c {
        'à'..='å' | 'ā' | 'ă' | 'ą' => 'a',
        'ç' | 'ć' | 'č' => 'c',
        'è'..='ë' | 'ē' | 'ę' | 'ě' => 'e',
        'ì'..='ï' | 'ī' => 'i',
        'ñ' | 'ń' | 'ň' => 'n',
        'ò'..='ö' | 'ō' | 'ő' => 'o',
        'ù'..='ü' | 'ū' | 'ů' | 'ű' => 'u',
        'ý' | 'ÿ' => 'y',
        'ś' | 'š' => 's',
        'ź' | 'ż' | 'ž' => 'z',
        'ß' => return vec!['s', 's'],
        c => c,
    };
    vec![plain]
}

/// The first words of a text, to be shown under a hit.
fn beginning(text: &str) -> String {
    const LONGEST: usize = 140;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.chars().count() <= LONGEST {
        return text;
    }
    let cut: String = text.chars().take(LONGEST).collect();
    let end = cut.rfind(' ').unwrap_or(cut.len());
    format!("{} …", &cut[..end])
}

/// HTML as plain words, for the index. Only what starts a line of its own parts words: a link within a sentence does not.
pub fn plain(html: &str) -> String {
    let mut parts = html.split('<');
    let mut text = parts.next().unwrap_or("").to_string();
    for part in parts {
        let (tag, rest) = part.split_once('>').unwrap_or((part, ""));
        let name: String = tag.trim_start_matches('/').chars().take_while(char::is_ascii_alphanumeric).collect();
        if !["a", "abbr", "b", "code", "del", "em", "i", "q", "small", "span", "strong", "sub", "sup"]
            .contains(&name.as_str())
        {
            text.push(' ');
        }
        text.push_str(rest);
    }
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&#39;", "'");
    text.replace("&nbsp;", " ").replace("&amp;", "&")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_folded_and_weighed() {
        assert_eq!(split("Größe: 70 mm² – a 5 A fuse's"), ["grosse", "70", "mm²", "5", "fuse"]);
        let spots = [
            Spot { href: "a".into(), page: "Battery".into(), heading: "Cut".into(), text: "The battery lead".into() },
            Spot { href: "b".into(), page: "Winch".into(), heading: "Fit".into(), text: "</script> battery".into() },
        ];
        let script = script(&spots);
        assert!(script.contains("\"battery\":[3,5]"), "{script}");
        assert!(!script.contains('<'));
    }

    #[test]
    fn html_gives_its_words() {
        assert_eq!(plain("<p>a &amp;lt; <b>b</b></p>").split_whitespace().collect::<Vec<_>>(), ["a", "&lt;", "b"]);
        assert_eq!(plain("to the <a href=\"#x\">starter</a>, then<br>on<p>go</p>"), "to the starter, then on go ");
    }
}

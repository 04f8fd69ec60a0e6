use std::fmt::Write as _;

use super::content::Card;
use super::text::{MORE, kept, more_first};
use crate::text::{acts, escaped};

/// Everything that the page looks like; nothing is fetched.
const STYLE: &str = "@page{size:A4;margin:10mm}\
*{box-sizing:border-box}\
body{font:9pt/1.25 sans-serif;color:#000;background:#fff;margin:0 auto;max-width:190mm}\
h1{font-size:13pt;margin:0 0 1mm}\
h2{font-size:9.5pt;margin:2mm 0 .5mm;border-bottom:1px solid #000}\
p{margin:0}ul{margin:0;padding-left:4mm}\
table{border-collapse:collapse}th,td{text-align:left;padding:0 3mm 0 0}\
.sketch{float:right;width:78mm;margin:0 0 2mm 3mm;border:1px solid #000}\
.sketch svg{display:block;width:100%;height:auto}\
.caution{margin-top:2mm;padding:1mm;border:2px solid #000;font-weight:bold}\
section{break-inside:avoid}\
@media print{body{max-width:none}}";

/// The card as a page that stands alone: prints on one sheet, fetches nothing, runs nothing.
///
/// - `sketch`: an SVG element.
pub(super) fn page(card: &Card, sketch: &str) -> String {
    let mut page = String::new();
    // Writing to a string cannot fail.
    let _ = lay_out(&mut page, card, sketch);
    page
}

fn lay_out(page: &mut String, card: &Card, sketch: &str) -> std::fmt::Result {
    let title = words(&card.title);
    writeln!(page, "<!DOCTYPE html>")?;
    writeln!(page, "<html lang=\"en\">")?;
    writeln!(page, "<head><meta charset=\"utf-8\"/><title>{title}</title>")?;
    writeln!(page, "<style>{STYLE}</style></head>")?;
    writeln!(page, "<body>")?;
    writeln!(page, "<div class=\"sketch\">{sketch}</div>")?;
    writeln!(page, "<h1>{title}</h1>")?;
    for line in &card.head {
        writeln!(page, "<p>{}</p>", words(line))?;
    }
    writeln!(page, "<section><h2>FIRST PAINTS at 50 %</h2>")?;
    table(page, &card.first)?;
    if let Some(more) = more_first(card) {
        writeln!(page, "<p>{more}</p>")?;
    }
    writeln!(page, "</section>")?;
    for part in &card.parts {
        writeln!(page, "<section><h2>{}</h2><ul>", words(&part.head))?;
        let (items, more) = kept(part);
        for item in &items {
            writeln!(page, "<li>{}</li>", words(item))?;
        }
        if more {
            writeln!(page, "<li>{MORE}</li>")?;
        }
        writeln!(page, "</ul></section>")?;
    }
    writeln!(page, "<p class=\"caution\">{}</p>", words(card.caution))?;
    writeln!(page, "</body>\n</html>")
}

fn table(page: &mut String, rows: &[Vec<String>]) -> std::fmt::Result {
    writeln!(page, "<table>")?;
    for (at, row) in rows.iter().enumerate() {
        let cell = if at == 0 { "th" } else { "td" };
        write!(page, "<tr>")?;
        for cell_words in row {
            write!(page, "<{cell}>{}</{cell}>", words(cell_words))?;
        }
        writeln!(page, "</tr>")?;
    }
    writeln!(page, "</table>")
}

/// Words that cannot be taken for markup, whatever a chart calls its marks; what acts is a blank.
fn words(text: &str) -> String {
    escaped(&text.replace(acts, " "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_break_out_of_the_words() {
        let name = "Gannet <script src=x> & \"Head\"'s\u{7}";
        assert_eq!(words(name), "Gannet &lt;script src=x&gt; &amp; &quot;Head&quot;&#39;s ");
    }
}

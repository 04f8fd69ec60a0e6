use shapefile::dbase::encoding::DynEncoding;
use shapefile::dbase::{Encoding, UnicodeLossy};

use crate::chart::error::ChartError;
pub(in crate::chart) use crate::text::plain as sanitised;

/// How the text of a table is encoded.
enum TextEncoding {
    Utf8,
    Latin1,
    Named(String, DynEncoding),
}

impl TextEncoding {
    /// From the text of a `.cpg` file.
    fn from_cpg(text: &str) -> Option<Self> {
        let name = text.trim().trim_start_matches('\u{feff}').to_ascii_uppercase();
        match name.as_str() {
            "UTF-8" | "UTF8" | "65001" => Some(Self::Utf8),
            "ISO-8859-1" | "ISO8859-1" | "ISO_8859-1" | "ISO88591" | "88591" | "8859-1"
            | "LATIN1" | "LATIN-1" | "28591" => Some(Self::Latin1),
            _ => {
                // The library knows code pages by number.
                let plain = ["WINDOWS-", "WINDOWS", "ANSI ", "CP"]
                    .iter()
                    .find_map(|prefix| name.strip_prefix(prefix))
                    .unwrap_or(&name);
                let encoding = DynEncoding::from_name(plain)?;
                let shown = if plain.len() == 4 && plain.starts_with("125") {
                    format!("Windows-{plain}")
                } else {
                    name
                };
                Some(Self::Named(shown, encoding))
            }
        }
    }

    fn decode(&self, bytes: &[u8]) -> String {
        match self {
            Self::Utf8 => String::from_utf8_lossy(bytes).into_owned(),
            Self::Latin1 => bytes.iter().copied().map(char::from).collect(),
            Self::Named(_, encoding) => encoding
                .decode(bytes)
                .or_else(|_| UnicodeLossy.decode(bytes))
                .map(std::borrow::Cow::into_owned)
                .unwrap_or_default(),
        }
    }

    fn name(&self) -> &str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Latin1 => "ISO-8859-1",
            Self::Named(name, _) => name,
        }
    }
}

/// What the first byte of a row is where the row is deleted; it stays until the table is packed (dBASE III,
/// from memory).
const DELETED: u8 = b'*';

struct Column {
    name: String,
    start: usize,
    length: usize,
}

/// The attributes of a layer, read cell by cell as asked for.
pub(in crate::chart) struct Table {
    rows: Vec<u8>,
    row_bytes: usize,
    count: usize,
    columns: Vec<Column>,
    encoding: TextEncoding,
}

impl Table {
    /// Opens a `.dbf`; `cpg` is the text of the `.cpg` beside it, if there is one.
    ///
    /// Layout: the dBASE III header of 32 bytes, one descriptor of 32 bytes a column, then rows of
    /// fixed length (ESRI Shapefile Technical Description, July 1998, and common practice).
    pub(in crate::chart) fn open(
        file: &str,
        bytes: &[u8],
        cpg: Option<(&str, &str)>,
    ) -> Result<Self, ChartError> {
        let damaged =
            |why: String| ChartError::Dbf { file: file.to_owned(), place: String::new(), why };
        let short = || damaged(format!("it holds {} bytes", bytes.len()));
        let word =
            |at: usize| bytes.get(at..at + 2).map(|b| usize::from(b[0]) | usize::from(b[1]) << 8);
        let count = bytes
            .get(4..8)
            .and_then(|b| b.try_into().ok())
            .map(u32::from_le_bytes)
            .ok_or_else(short)? as usize;
        let (header, row_bytes) = (word(8).ok_or_else(short)?, word(10).ok_or_else(short)?);
        let columns = columns(bytes, header).ok_or_else(short)?;
        let width = 1 + columns.iter().map(|column| column.length).sum::<usize>();
        if width > row_bytes {
            return Err(damaged(format!(
                "its columns need {width} bytes a row, a row has {row_bytes}"
            )));
        }
        let rows = bytes.get(header..).unwrap_or_default();
        let held = rows.len() / row_bytes.max(1);
        if held < count {
            return Err(ChartError::Dbf {
                file: file.to_owned(),
                place: format!("record {}: ", held + 1),
                why: format!("{count} rows are announced, {held} are there"),
            });
        }
        let rows = rows.get(..count * row_bytes).unwrap_or_default().to_vec();
        let encoding = match cpg {
            Some((cpg_file, text)) => {
                TextEncoding::from_cpg(text).ok_or_else(|| ChartError::Encoding {
                    file: cpg_file.to_owned(),
                    encoding: sanitised(text.trim()).chars().take(40).collect(),
                })?
            }
            None if std::str::from_utf8(&rows).is_ok() => TextEncoding::Utf8,
            None => TextEncoding::Latin1,
        };
        Ok(Self { rows, row_bytes, count, columns, encoding })
    }

    /// How many rows there are, deleted ones included: rows belong to shapes by number.
    pub(in crate::chart) fn len(&self) -> usize {
        self.count
    }

    /// Whether a row is deleted, and its shape with it. Rows count from 0.
    pub(in crate::chart) fn is_deleted(&self, row: usize) -> bool {
        let mark = row.checked_mul(self.row_bytes).and_then(|start| self.rows.get(start));
        mark == Some(&DELETED)
    }

    /// The names of the columns.
    pub(in crate::chart) fn names(&self) -> impl Iterator<Item = &str> {
        self.columns.iter().map(|column| column.name.as_str())
    }

    /// The number of a column, whatever the case of its name.
    pub(in crate::chart) fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column.name.eq_ignore_ascii_case(name))
    }

    /// How the text is encoded.
    pub(in crate::chart) fn encoding(&self) -> &str {
        self.encoding.name()
    }

    /// A cell as text without the blanks around it; `None` where it is empty. Rows count from 0.
    pub(in crate::chart) fn text(&self, row: usize, column: usize) -> Option<String> {
        let column = self.columns.get(column)?;
        let start = row.checked_mul(self.row_bytes)? + column.start;
        let cell = self.rows.get(start..start + column.length)?;
        // Some writers pad with NUL instead of blanks.
        let cell = cell.split(|byte| *byte == 0).next().unwrap_or_default();
        let text = self.encoding.decode(cell);
        let text = text.trim();
        (!text.is_empty()).then(|| sanitised(text))
    }

    /// A cell as a number; `None` where it is empty, filled with asterisks, or no number.
    pub(in crate::chart) fn number(&self, row: usize, column: usize) -> Option<f64> {
        let text = self.text(row, column)?;
        text.parse().ok().filter(|value: &f64| value.is_finite())
    }
}

fn columns(bytes: &[u8], header: usize) -> Option<Vec<Column>> {
    let mut columns = Vec::new();
    let (mut at, mut start) = (32, 1);
    while at + 32 <= header {
        let descriptor = bytes.get(at..at + 32)?;
        if descriptor.first() == Some(&0x0D) {
            break;
        }
        let name = descriptor.get(..11)?.split(|byte| *byte == 0).next().unwrap_or_default();
        let length = usize::from(*descriptor.get(16)?);
        let name = sanitised(String::from_utf8_lossy(name).trim());
        columns.push(Column { name, start, length });
        start += length;
        at += 32;
    }
    bytes.get(header..).map(|_| columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A table of one column NAME of ten bytes.
    fn table(cells: &[&[u8; 10]], cpg: Option<&str>) -> Table {
        let mut bytes = vec![3, 0, 0, 0];
        bytes.extend((cells.len() as u32).to_le_bytes());
        bytes.extend(65_u16.to_le_bytes());
        bytes.extend(11_u16.to_le_bytes());
        bytes.resize(32, 0);
        bytes.extend(b"NAME\0\0\0\0\0\0\0C");
        bytes.resize(48, 0);
        bytes.push(10);
        bytes.resize(64, 0);
        bytes.push(0x0D);
        for cell in cells {
            bytes.push(b' ');
            bytes.extend(*cell);
        }
        Table::open("t.dbf", &bytes, cpg.map(|text| ("t.cpg", text))).unwrap()
    }

    #[test]
    fn text_is_read_in_its_encoding() {
        let utf8 = table(&[b"Caf\xC3\xA9     "], None);
        assert_eq!(utf8.text(0, 0).unwrap(), "Café");
        assert_eq!(utf8.encoding(), "UTF-8");
        let latin = table(&[b"Caf\xE9      "], None);
        assert_eq!(latin.text(0, 0).unwrap(), "Café");
        assert_eq!(latin.encoding(), "ISO-8859-1");
        // 0x80 is the euro sign in Windows-1252 and a control code in Latin-1 (published tables,
        // from memory).
        let windows = table(&[b"\x80uro      "], Some("1252"));
        assert_eq!(windows.text(0, 0).unwrap(), "€uro");
        let windows = table(&[b"\x80uro      "], Some("windows-1252\r\n"));
        assert_eq!(windows.text(0, 0).unwrap(), "€uro");
        assert_eq!(windows.encoding(), "Windows-1252");
    }

    #[test]
    fn a_row_is_deleted_by_its_first_byte_alone() {
        let mut table = table(&[b"*starred  ", b"gone      "], None);
        // Rows of eleven bytes: the second starts at byte 11.
        table.rows[11] = b'*';
        assert_eq!(
            [0, 1, 2, usize::MAX].map(|row| table.is_deleted(row)),
            [false, true, false, false]
        );
    }

    #[test]
    fn names_cannot_command_a_terminal() {
        let table = table(&[b"\x1b[2Jname  "], None);
        assert_eq!(table.text(0, 0).unwrap(), "\u{FFFD}[2Jname");
    }

    #[test]
    fn blank_cells_are_no_numbers() {
        let table = table(&[b"          ", b"**********", b"   12.50  "], None);
        assert_eq!(table.number(0, 0), None);
        assert_eq!(table.number(1, 0), None);
        assert_eq!(table.number(2, 0), Some(12.5));
        assert_eq!(table.column("name"), Some(0));
    }
}

//! The bare tree of a TOML or JSON file, each value with its place in the text where it is known.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A place in the text, in bytes.
pub(crate) type Place = Range<usize>;

/// A table: its entries in the order of the file or of the alphabet.
pub(crate) type Table = Vec<(Key, Node)>;

/// The name of an entry and where it stands.
#[derive(Debug)]
pub(crate) struct Key {
    pub name: String,
    pub at: Option<Place>,
}

/// A value and where it stands.
#[derive(Debug)]
pub(crate) struct Node {
    pub value: Value,
    pub at: Option<Place>,
}

/// What a file can hold.
#[derive(Debug)]
pub(crate) enum Value {
    Table(Table),
    Array(Vec<Node>),
    Text(String),
    Number(f64),
    /// A TOML date or time without quotes, as it was written.
    Time(String),
    Truth(bool),
    Null,
}

impl Value {
    /// What it is, for messages.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Table(_) => "a table",
            Self::Array(_) => "a list",
            Self::Text(_) => "text",
            Self::Number(_) => "a number",
            Self::Time(_) => "a time",
            Self::Truth(_) => "true or false",
            Self::Null => "null",
        }
    }
}

/// Text that is neither TOML nor JSON: what the parser says, and where.
pub(crate) struct SyntaxError {
    pub format: &'static str,
    pub message: String,
    pub at: Option<Place>,
}

/// Whether a text is JSON: no TOML file starts with a brace.
pub(crate) fn is_json(text: &str) -> bool {
    text.trim_start().starts_with('{')
}

/// Parses TOML, or JSON where the text starts with a brace.
pub(crate) fn parse(text: &str) -> Result<Table, SyntaxError> {
    if is_json(text) { parse_json(text) } else { parse_toml(text) }
}

fn parse_toml(text: &str) -> Result<Table, SyntaxError> {
    let table = DeTable::parse(text).map_err(|error| SyntaxError {
        format: "TOML",
        message: error.message().to_owned(),
        at: error.span(),
    })?;
    Ok(toml_table(table.get_ref()))
}

fn toml_table(table: &DeTable<'_>) -> Table {
    let mut entries: Table = table
        .iter()
        .map(|(key, value)| {
            let key = Key { name: key.get_ref().to_string(), at: Some(key.span()) };
            (key, toml_node(value))
        })
        .collect();
    entries.sort_by_key(|(key, _)| key.at.as_ref().map(|at| at.start));
    entries
}

fn toml_node(node: &Spanned<DeValue<'_>>) -> Node {
    let value = match node.get_ref() {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(number) => Value::Number(
            i64::from_str_radix(number.as_str(), number.radix()).map_or(f64::NAN, |n| n as f64),
        ),
        DeValue::Float(number) => Value::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(value) => Value::Truth(*value),
        DeValue::Datetime(time) => Value::Time(time.to_string()),
        DeValue::Array(items) => Value::Array(items.iter().map(toml_node).collect()),
        DeValue::Table(table) => Value::Table(toml_table(table)),
    };
    Node { value, at: Some(node.span()) }
}

fn parse_json(text: &str) -> Result<Table, SyntaxError> {
    let value: serde_json::Value = serde_json::from_str(text).map_err(|error| {
        // The message ends in the line and column; the label points there instead.
        let told = error.to_string();
        let message = told.split(" at line ").next().unwrap_or(&told).to_owned();
        SyntaxError { format: "JSON", message, at: place_of(text, error.line(), error.column()) }
    })?;
    match json_node(value).value {
        Value::Table(table) => Ok(table),
        _ => Ok(Table::new()),
    }
}

fn json_node(value: serde_json::Value) -> Node {
    use serde_json::Value as Json;
    let value = match value {
        Json::Null => Value::Null,
        Json::Bool(value) => Value::Truth(value),
        Json::Number(number) => Value::Number(number.as_f64().unwrap_or(f64::NAN)),
        Json::String(text) => Value::Text(text),
        Json::Array(items) => Value::Array(items.into_iter().map(json_node).collect()),
        Json::Object(entries) => Value::Table(
            entries
                .into_iter()
                .map(|(name, value)| (Key { name, at: None }, json_node(value)))
                .collect(),
        ),
    };
    Node { value, at: None }
}

/// The byte at a line and column, both from one, of a text.
fn place_of(text: &str, line: usize, column: usize) -> Option<Place> {
    let start: usize = text.split_inclusive('\n').take(line.checked_sub(1)?).map(str::len).sum();
    let mut at = (start + column.saturating_sub(1)).min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    Some(at..at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn toml_values_know_their_place() {
        let text = "[own]\nheight_ft = 2_000\n";
        let Ok(table) = parse(text) else { panic!("no TOML") };
        let Value::Table(own) = &table[0].1.value else { panic!("no table") };
        let Value::Number(feet) = own[0].1.value else { panic!("no number") };
        assert!((feet - 2000.0).abs() < 1e-9);
        assert_eq!(&text[own[0].1.at.clone().unwrap()], "2_000");
        assert_eq!(&text[own[0].0.at.clone().unwrap()], "height_ft");
    }

    #[test]
    fn json_is_told_by_its_brace() {
        let Ok(table) = parse(" {\"own\": {\"height_ft\": 2000}}") else { panic!("no JSON") };
        assert_eq!(table[0].0.name, "own");
        let refused = parse("{\n\"own\": }").err().unwrap();
        assert_eq!(refused.format, "JSON");
        assert_eq!(refused.message, "expected value");
        assert_eq!(refused.at, Some(9..9));
    }
}

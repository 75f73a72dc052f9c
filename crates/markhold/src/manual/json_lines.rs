//! Every line of `--json` for the reference page: fields with type, unit and meaning, out of the schema
//! that the tests hold the lines to.

use super::table::row_of;
use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, Visitor};
use std::fmt::{self, Write};
use std::marker::PhantomData;

const SCHEMA: &str = include_str!("../../../../docs/json-lines.schema.json");

/// What stands in the schema by names, in the order of the file: that is one for a reader.
#[derive(Clone, Debug, PartialEq)]
struct InOrder<T>(Vec<(String, T)>);

impl<T> Default for InOrder<T> {
    fn default() -> Self {
        InOrder(Vec::new())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for InOrder<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Names<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Names<T> {
            type Value = InOrder<T>;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut all = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    all.push(entry);
                }
                Ok(InOrder(all))
            }
        }
        from.deserialize_map(Names(PhantomData))
    }
}

#[derive(Deserialize)]
struct Schema {
    #[serde(rename = "oneOf")]
    kinds: Vec<Form>,
    #[serde(rename = "$defs")]
    forms: InOrder<Form>,
}

/// What may stand in a place.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
struct Form {
    description: String,
    unit: String,
    #[serde(rename = "type")]
    types: Types,
    #[serde(rename = "$ref")]
    named: Option<String>,
    #[serde(rename = "const")]
    only: Option<serde_json::Value>,
    #[serde(rename = "enum")]
    choice: Vec<String>,
    #[serde(rename = "anyOf")]
    any: Vec<Form>,
    items: Option<Box<Form>>,
    properties: InOrder<Form>,
}

#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(untagged)]
enum Types {
    One(String),
    Several(Vec<String>),
}

impl Default for Types {
    fn default() -> Self {
        Types::Several(Vec::new())
    }
}

impl Form {
    /// The form that it names instead of saying it.
    fn name(&self) -> Option<&str> {
        self.named.as_deref()?.rsplit('/').next()
    }

    /// Its type in words: `number or null`, `list of gap`.
    fn words(&self) -> String {
        if let Some(name) = self.name() {
            return format!("`{name}`");
        }
        if let Some(only) = &self.only {
            return format!("`{}`", only.to_string().trim_matches('"'));
        }
        if !self.choice.is_empty() {
            let choice: Vec<String> = self.choice.iter().map(|c| format!("`{c}`")).collect();
            return choice.join(", ");
        }
        if !self.any.is_empty() {
            let any: Vec<String> = self.any.iter().map(Form::words).collect();
            return any.join(" or ");
        }
        let types = match &self.types {
            Types::One(one) => std::slice::from_ref(one),
            Types::Several(several) => several,
        };
        let words = types.iter().map(|t| self.word(t));
        words.collect::<Vec<_>>().join(" or ")
    }

    fn word(&self, kind: &str) -> String {
        match (kind, &self.items) {
            ("string", _) => "text".into(),
            ("boolean", _) => "true or false".into(),
            ("array", Some(of)) => match of.words() {
                of if of.is_empty() => "list".into(),
                of => format!("list of {of}"),
            },
            ("array", None) => "list".into(),
            _ => kind.into(),
        }
    }
}

/// The section of the reference page. A schema that is damaged gives none; a test reads it.
pub fn section(out: &mut String) {
    let Ok(schema) = serde_json::from_str::<Schema>(SCHEMA) else {
        return;
    };
    *out += "## JSON lines\n\n\
        With `--json` each line is one object. `type` says which, `version` the version of its form: it rises when a field \
        changes its meaning, and fields may be added without. Times in seconds count from the first sample. A unit of 1 is a \
        share or a probability. [json-lines.schema.json](json-lines.schema.json) says the same to a validator; what is \
        printed is held to it.\n\n";
    let kinds: Vec<&str> = schema.kinds.iter().filter_map(Form::name).collect();
    let (lines, parts): (Vec<_>, Vec<_>) = schema
        .forms
        .0
        .iter()
        .partition(|(name, _)| kinds.contains(&name.as_str()));
    lines.iter().for_each(|(name, form)| table(out, name, form));
    *out += "### Parts of lines\n\nObjects that stand in fields of others.\n\n";
    parts.iter().for_each(|(name, form)| table(out, name, form));
}

fn table(out: &mut String, name: &str, form: &Form) {
    let about = form.description.trim_end_matches('.');
    let _ = writeln!(out, "### Line `{name}`\n\n{about}.\n");
    if form.properties.0.is_empty() {
        return;
    }
    *out += "| field | type | unit | what it says |\n|---|---|---|---|\n";
    rows(out, "", form);
    *out += "\n";
}

/// A row for each field, those of an object in it below it.
fn rows(out: &mut String, above: &str, form: &Form) {
    for (name, field) in &form.properties.0 {
        if name == "type" {
            continue;
        }
        let path = format!("{above}{name}");
        let said = match (name.as_str(), &field.only) {
            ("version", Some(_)) => "The version of this form",
            _ => &field.description,
        };
        row_of(
            out,
            &[&format!("`{path}`"), &field.words(), &field.unit, said],
        );
        rows(out, &format!("{path}."), field);
        if let Some(of) = &field.items {
            rows(out, &format!("{path}."), of);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fields without a meaning, and numbers without a unit, in a form and those in it.
    fn untold(name: &str, form: &Form, found: &mut Vec<String>) {
        for (field, of) in &form.properties.0 {
            let path = format!("{name}.{field}");
            if field != "type" && of.description.is_empty() {
                found.push(format!("{path}: no meaning"));
            }
            if of.words().contains("number") && !of.words().contains("list") && of.unit.is_empty() {
                found.push(format!("{path}: no unit"));
            }
            untold(&path, of, found);
            if let Some(items) = &of.items {
                untold(&path, items, found);
            }
        }
    }

    #[test]
    fn every_field_has_a_meaning_and_every_number_a_unit() {
        let schema: Schema = serde_json::from_str(SCHEMA).expect("a schema");
        let mut found = Vec::new();
        for (name, form) in &schema.forms.0 {
            untold(name, form, &mut found);
        }
        assert!(found.is_empty(), "{found:#?}");
        assert!(schema.kinds.len() > 25, "{}", schema.kinds.len());
    }

    #[test]
    fn a_line_is_told_with_type_unit_and_version() {
        let mut page = String::new();
        section(&mut page);
        for said in [
            "### Line `signal`",
            "| `version` | `1` |  | The version of this form |",
            "| `mark_hz` | number | Hz | Tone of mark",
            "| `gaps` | list of `gap` |  |",
            "| `clock_steps.by_s` | number | s |",
            "| `stop_units` | number or null | elements |",
        ] {
            assert!(page.contains(said), "{said}");
        }
    }
}

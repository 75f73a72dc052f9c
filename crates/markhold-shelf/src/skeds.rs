//! Skeds kept in the archive.

use super::{Shelf, ShelfError};
use markhold_skeds::Sked;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeMap;

impl Shelf {
    /// All skeds, by the numbers they were given.
    ///
    /// Errors: one that cannot be read, by its number.
    pub fn skeds(&self) -> Result<BTreeMap<i64, Sked>, ShelfError> {
        let mut query = self
            .archive()
            .prepare_cached("SELECT id, form FROM skeds")?;
        let rows = query.query_map([], |row| Ok((row.get(0)?, row.get::<_, String>(1)?)))?;
        let both = rows.collect::<Result<Vec<(i64, String)>, _>>()?;
        both.into_iter()
            .map(|(id, form)| Ok((id, parsed(id, &form)?)))
            .collect()
    }

    /// One sked. Errors: [`ShelfError::NoSked`].
    pub fn sked(&self, id: i64) -> Result<Sked, ShelfError> {
        let mut query = self
            .archive()
            .prepare_cached("SELECT form FROM skeds WHERE id = ?1")?;
        let form: Option<String> = query.query_row([id], |row| row.get(0)).optional()?;
        parsed(id, &form.ok_or(ShelfError::NoSked { id })?)
    }

    /// Adds one and gives its number.
    pub fn add_sked(&mut self, sked: &Sked) -> Result<i64, ShelfError> {
        let archive = self.archive();
        archive.execute("INSERT INTO skeds (form) VALUES (?1)", [form(sked)])?;
        Ok(archive.last_insert_rowid())
    }

    /// Adds all or none of them, and gives their numbers.
    pub fn add_skeds(&mut self, skeds: &[Sked]) -> Result<Vec<i64>, ShelfError> {
        let change = self.archive_mut().transaction()?;
        let mut ids = Vec::with_capacity(skeds.len());
        for sked in skeds {
            change.execute("INSERT INTO skeds (form) VALUES (?1)", [form(sked)])?;
            ids.push(change.last_insert_rowid());
        }
        change.commit()?;
        Ok(ids)
    }

    /// Puts another in its place. Errors: [`ShelfError::NoSked`].
    pub fn change_sked(&mut self, id: i64, sked: &Sked) -> Result<(), ShelfError> {
        let change = "UPDATE skeds SET form = ?2 WHERE id = ?1";
        match self.archive().execute(change, params![id, form(sked)])? {
            0 => Err(ShelfError::NoSked { id }),
            _ => Ok(()),
        }
    }

    /// Removes it and gives what it was; what became of it earlier stays. Errors:
    /// [`ShelfError::NoSked`].
    pub fn remove_sked(&mut self, id: i64) -> Result<Sked, ShelfError> {
        let sked = self.sked(id)?;
        self.archive()
            .execute("DELETE FROM skeds WHERE id = ?1", [id])?;
        Ok(sked)
    }
}

fn form(sked: &Sked) -> String {
    serde_json::json!(sked).to_string()
}

fn parsed(id: i64, form: &str) -> Result<Sked, ShelfError> {
    serde_json::from_str(form).map_err(|error| ShelfError::Sked {
        id,
        why: error.to_string(),
    })
}

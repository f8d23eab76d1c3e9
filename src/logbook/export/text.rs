//! CSV (RFC 4180): the first line names the columns.

use super::table::{Cell, Table};

/// A table as a CSV file.
#[must_use]
pub fn csv(table: &Table) -> String {
    let mut file = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and all rows have as many fields.
    let _ = file.write_record(table.columns.iter().map(|column| column.name));
    for row in &table.rows {
        let _ = file.write_record(row.iter().map(field));
    }
    let bytes = file.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

fn field(cell: &Cell) -> String {
    match cell {
        Cell::Time(Some(at)) => at.to_string(),
        // As many digits as lead back to the same number.
        Cell::Real(Some(number)) => format!("{number:?}"),
        Cell::Whole(Some(number)) => number.to_string(),
        Cell::Text(Some(text)) => text.clone(),
        Cell::Time(None) | Cell::Real(None) | Cell::Whole(None) | Cell::Text(None) => String::new(),
    }
}

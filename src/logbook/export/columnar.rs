//! Apache Parquet, compressed with Snappy.

use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::{Type, TypePtr};

use super::ExportError;
use super::table::{Cell, Column, Kind, Table};

/// Rows that are written together.
const GROUP: usize = 100_000;

/// A table as a Parquet file. Every column may hold nothing.
///
/// # Errors
/// When a value does not fit the format.
pub fn parquet(table: &Table) -> Result<Vec<u8>, ExportError> {
    write(table).map_err(|why| ExportError::new("Parquet", &why))
}

fn write(table: &Table) -> Result<Vec<u8>, ParquetError> {
    let columns: Result<Vec<TypePtr>, _> = table.columns.iter().map(column_type).collect();
    let schema = Type::group_type_builder(table.name)
        .with_fields(columns?)
        .build()?;
    let made_by = KeyValue::new(
        "skimwatch.version".to_owned(),
        env!("CARGO_PKG_VERSION").to_owned(),
    );
    let about = KeyValue::new("skimwatch.row".to_owned(), table.about.to_owned());
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_key_value_metadata(Some(vec![made_by, about]))
        .build();
    let mut file = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    for rows in table.rows.chunks(GROUP) {
        let mut group = file.next_row_group()?;
        let mut index = 0;
        while let Some(mut writer) = group.next_column()? {
            write_column(&mut writer, rows, index)?;
            writer.close()?;
            index += 1;
        }
        group.close()?;
    }
    file.into_inner()
}

fn column_type(column: &Column) -> Result<TypePtr, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Time => (
            Physical::INT64,
            Some(LogicalType::timestamp(true, TimeUnit::MILLIS)),
        ),
        Kind::Real => (Physical::DOUBLE, None),
        Kind::Whole => (Physical::INT64, None),
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
    };
    Type::primitive_type_builder(column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical)
        .build()
        .map(Arc::new)
}

fn write_column(
    writer: &mut SerializedColumnWriter<'_>,
    rows: &[Vec<Cell>],
    index: usize,
) -> Result<(), ParquetError> {
    let cells = || rows.iter().filter_map(|row| row.get(index));
    // 1 where there is a value, 0 where there is none.
    let is_there: Vec<i16> = cells().map(|cell| i16::from(!is_none(cell))).collect();
    match cells().next() {
        Some(Cell::Time(_) | Cell::Whole(_)) => {
            let values: Vec<i64> = cells()
                .filter_map(|cell| match cell {
                    Cell::Time(at) => at.map(|at| at.0),
                    Cell::Whole(number) => *number,
                    _ => None,
                })
                .collect();
            let column = writer.typed::<Int64Type>();
            column.write_batch(&values, Some(&is_there), None)?;
        }
        Some(Cell::Real(_)) => {
            let values: Vec<f64> = cells()
                .filter_map(|cell| match cell {
                    Cell::Real(number) => *number,
                    _ => None,
                })
                .collect();
            let column = writer.typed::<DoubleType>();
            column.write_batch(&values, Some(&is_there), None)?;
        }
        Some(Cell::Text(_)) => {
            let values: Vec<ByteArray> = cells()
                .filter_map(|cell| match cell {
                    Cell::Text(text) => text.as_deref().map(ByteArray::from),
                    _ => None,
                })
                .collect();
            let column = writer.typed::<ByteArrayType>();
            column.write_batch(&values, Some(&is_there), None)?;
        }
        None => {}
    }
    Ok(())
}

fn is_none(cell: &Cell) -> bool {
    matches!(
        cell,
        Cell::Time(None) | Cell::Real(None) | Cell::Whole(None) | Cell::Text(None)
    )
}

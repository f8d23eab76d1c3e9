//! The fields of one sentence and the strict ways of reading them. An empty field is `None`; a
//! field of the wrong form or out of range refuses the whole sentence.

use chrono::{NaiveDate, NaiveTime};

use super::cut::{Cut, Ends};
use super::forms::{at_point, circle, decimal, is_digits, last_digit, two_digit_parts, unescape};
use super::geo::GeoPosition;
use super::observation::{Direction, North};
use super::outcome::DecodeReject;
use super::ranges::{self, Range};
use super::talker::Talker;
use crate::units::{Angle, degrees};

/// Characters of a name that are kept: more than any standard allows (own choice), so that what is
/// remembered of names is bounded.
const MOST_NAME: usize = 32;

/// The fields after the address of one sentence.
#[derive(Debug)]
pub(super) struct Fields<'a> {
    /// Who sent it.
    pub(super) talker: Talker,
    /// What kind it is.
    pub(super) kind: &'static str,
    /// Everything between the address's comma and the checksum.
    pub(super) data: &'a str,
    ends: Ends,
    /// So many fields behind the first are left out.
    left_out: usize,
}

impl<'a> Fields<'a> {
    /// The fields of a sentence. Their number outside `allowed` refuses it; surplus fields pass when
    /// they are empty (some talkers end every sentence with a comma).
    pub(super) fn new(
        talker: Talker,
        kind: &'static str,
        cut: Cut<'a>,
        (least, greatest): (usize, usize),
    ) -> Result<Self, DecodeReject> {
        let fields = Self {
            talker,
            kind,
            data: cut.data,
            ends: cut.ends,
            left_out: 0,
        };
        let surplus_empty = (greatest..fields.count()).all(|i| fields.text(i).is_empty());
        if fields.count() < least || !surplus_empty {
            return Err(fields.malformed("number of fields", fields.data));
        }
        Ok(fields)
    }

    /// The sentence as if the fields from the second up to `next` were not there.
    pub(super) fn without_up_to(&self, next: usize) -> Self {
        Self {
            ends: self.ends.clone(),
            left_out: self.left_out + next.saturating_sub(1),
            ..*self
        }
    }

    /// How many fields there are.
    pub(super) fn count(&self) -> usize {
        self.ends.len().saturating_sub(self.left_out).max(1)
    }

    /// Text of a field; empty when the sentence ends before it.
    pub(super) fn text(&self, index: usize) -> &'a str {
        let at = if index == 0 { 0 } else { index + self.left_out };
        let Some(to) = self.ends.get(at) else {
            return "";
        };
        let before = at.checked_sub(1).and_then(|before| self.ends.get(before));
        let from = before.map_or(0, |end| *end as usize + 1);
        self.data.get(from..*to as usize).unwrap_or_default()
    }

    /// A refusal for a field of the wrong form.
    pub(super) fn malformed(&self, field: &'static str, found: &str) -> DecodeReject {
        DecodeReject::Malformed {
            kind: self.kind,
            field,
            found: found.to_owned(),
        }
    }

    /// A number of any size.
    pub(super) fn number(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<f64>, DecodeReject> {
        let text = self.text(index);
        if text.is_empty() {
            return Ok(None);
        }
        decimal(text)
            .map(Some)
            .ok_or_else(|| self.malformed(field, text))
    }

    /// Checks that each of these fields is empty or a number, before a decoder of another crate
    /// reads them.
    pub(super) fn check_numbers(
        &self,
        fields: &[(usize, &'static str)],
    ) -> Result<(), DecodeReject> {
        fields
            .iter()
            .try_for_each(|&(index, field)| self.number(index, field).map(drop))
    }

    /// A number inside a range.
    pub(super) fn ranged(
        &self,
        index: usize,
        field: &'static str,
        range: Range,
    ) -> Result<Option<f64>, DecodeReject> {
        self.number(index, field)?
            .map(|value| range.gate(self.kind, field, value))
            .transpose()
    }

    /// A number in a unit that is `unit` base units, converted to the base unit and checked against
    /// a range in it.
    pub(super) fn scaled(
        &self,
        index: usize,
        field: &'static str,
        unit: f64,
        range: Range,
    ) -> Result<Option<f64>, DecodeReject> {
        self.number(index, field)?
            .map(|value| range.gate_showing(self.kind, field, value * unit, &self.text(index)))
            .transpose()
    }

    /// A whole number without sign, at most `limit`.
    pub(super) fn integer(
        &self,
        index: usize,
        field: &'static str,
        limit: u32,
    ) -> Result<Option<u32>, DecodeReject> {
        let text = self.text(index);
        if text.is_empty() {
            return Ok(None);
        }
        if !is_digits(text) {
            return Err(self.malformed(field, text));
        }
        match text.parse() {
            Ok(value) if value <= limit => Ok(Some(value)),
            _ => Err(DecodeReject::OutOfRange {
                kind: self.kind,
                field,
                found: text.to_owned(),
                allowed: "a smaller whole number",
            }),
        }
    }

    /// One letter out of `allowed`.
    pub(super) fn letter(
        &self,
        index: usize,
        field: &'static str,
        allowed: &str,
    ) -> Result<Option<char>, DecodeReject> {
        let text = self.text(index);
        match *text.as_bytes() {
            [] => Ok(None),
            [letter] if allowed.as_bytes().contains(&letter) => Ok(Some(char::from(letter))),
            _ => Err(self.malformed(field, text)),
        }
    }

    /// A number that must be followed by the letter of its unit or reference; the letter may stand
    /// without the number, the number not without the letter.
    pub(super) fn with_letter(
        &self,
        index: usize,
        field: &'static str,
        letter: &str,
        range: Range,
    ) -> Result<Option<f64>, DecodeReject> {
        let value = self.ranged(index, field, range)?;
        let found = self.letter(index + 1, field, letter)?;
        if value.is_some() && found.is_none() {
            return Err(self.malformed(field, "value without its letter"));
        }
        Ok(value)
    }

    /// A magnitude and a side: positive with the first of the two letters, negative with the
    /// second. Zero needs no side.
    pub(super) fn with_side(
        &self,
        index: usize,
        field: &'static str,
        sides: &str,
        range: Range,
    ) -> Result<Option<f64>, DecodeReject> {
        let side = self.letter(index + 1, field, sides)?;
        match (self.ranged(index, field, range)?, side) {
            (None, _) => Ok(None),
            (Some(0.0), _) => Ok(Some(0.0)),
            (Some(_), None) => Err(self.malformed(field, "value without its side")),
            (Some(size), Some(letter)) if sides.starts_with(letter) => Ok(Some(size)),
            (Some(size), Some(_)) => Ok(Some(-size)),
        }
    }

    /// A direction on the full circle, followed by its letter, as an angle below 360 degrees.
    pub(super) fn direction(
        &self,
        index: usize,
        field: &'static str,
        letter: &str,
    ) -> Result<Option<Angle>, DecodeReject> {
        Ok(self
            .with_letter(index, field, letter, ranges::CIRCLE_DEG)?
            .map(circle))
    }

    /// A direction followed by `T` or `M`, whichever the sender uses.
    pub(super) fn either_direction(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<Direction>, DecodeReject> {
        let angle = self.direction(index, field, "TM")?;
        let north = self.north(index + 1, field)?;
        Ok(angle
            .zip(north)
            .map(|(angle, north)| Direction { angle, north }))
    }

    /// Which north: `T` or `M`.
    pub(super) fn north(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<North>, DecodeReject> {
        Ok(self.letter(index, field, "TM")?.map(|letter| {
            if letter == 'T' {
                North::True
            } else {
                North::Magnetic
            }
        }))
    }

    /// A flag: `A` is true, `V` is false.
    pub(super) fn flag(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<bool>, DecodeReject> {
        Ok(self.letter(index, field, "AV")?.map(|letter| letter == 'A'))
    }

    /// A status without which the data do not count: only `A` is valid, an empty status is not. A
    /// sentence that ends before its status field is refused, because a status cannot be guessed.
    pub(super) fn is_valid(&self, index: usize, field: &'static str) -> Result<bool, DecodeReject> {
        if index >= self.count() {
            return Err(self.malformed(field, self.data));
        }
        Ok(self.flag(index, field)? == Some(true))
    }

    /// A mode indicator, which outranks the status (E. S. Raymond, *NMEA Revealed*, 2025): data
    /// count with autonomous, differential, float, precise and real-time-kinematic fixes, not with
    /// estimated, manual, simulated and not-valid ones. Editions before 2.3 have none.
    pub(super) fn mode_allows(&self, index: usize) -> Result<bool, DecodeReject> {
        let mode = self.letter(index, "mode", "ADEFMNPRS")?;
        Ok(mode.is_none_or(|letter| "ADFPR".contains(letter)))
    }

    /// A name: padding taken off, `^hh` turned into the ISO 8859-1 character it stands for.
    pub(super) fn name(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<String>, DecodeReject> {
        let text = self.text(index);
        let bytes = unescape(text).ok_or_else(|| self.malformed(field, text))?;
        let name: String = bytes.into_iter().map(char::from).collect();
        let name = name.trim();
        // Names are only compared and shown: cut alike wherever they stand, they stay the same.
        Ok((!name.is_empty()).then(|| name.chars().take(MOST_NAME).collect()))
    }

    /// Latitude, its letter, longitude, its letter, as `ddmm.mm,N,dddmm.mm,E`. `None` when all four
    /// fields are empty; anything between is refused.
    pub(super) fn position(&self, index: usize) -> Result<Option<GeoPosition>, DecodeReject> {
        if (index..index + 4).all(|i| self.text(i).is_empty()) {
            return Ok(None);
        }
        let latitude = self.arc(index, "latitude", 2, "NS", ranges::LATITUDE_DEG)?;
        let longitude = self.arc(index + 2, "longitude", 3, "EW", ranges::LONGITUDE_DEG)?;
        Ok(Some(GeoPosition {
            latitude: degrees(latitude),
            longitude: degrees(longitude),
        }))
    }

    /// Latitude or longitude: degrees of fixed width, then minutes below 60, and a hemisphere.
    fn arc(
        &self,
        index: usize,
        field: &'static str,
        degree_digits: usize,
        sides: &str,
        range: Range,
    ) -> Result<f64, DecodeReject> {
        let text = self.text(index);
        let (whole, _) = at_point(text);
        let (Some(whole_degrees), Some(minutes)) =
            (text.get(..degree_digits), text.get(degree_digits..))
        else {
            return Err(self.malformed(field, text));
        };
        if whole.len() != degree_digits + 2 || !is_digits(whole) {
            return Err(self.malformed(field, text));
        }
        let (Some(whole_degrees), Some(minutes)) = (decimal(whole_degrees), decimal(minutes))
        else {
            return Err(self.malformed(field, text));
        };
        let minutes = ranges::ARC_MINUTES.gate(self.kind, field, minutes)?;
        let value = range.gate(self.kind, field, whole_degrees + minutes / 60.0)?;
        match self.letter(index + 1, field, sides)? {
            Some(letter) if sides.starts_with(letter) => Ok(value),
            Some(_) => Ok(-value),
            None => Err(self.malformed(field, "value without its hemisphere")),
        }
    }

    /// Time of day as `hhmmss` with any number of decimals. Second 60 is a leap second.
    pub(super) fn time(
        &self,
        index: usize,
        field: &'static str,
    ) -> Result<Option<NaiveTime>, DecodeReject> {
        let text = self.text(index);
        if text.is_empty() {
            return Ok(None);
        }
        let (whole, fraction) = at_point(text);
        let parts = two_digit_parts(whole);
        let fraction_good = fraction.is_empty() || is_digits(fraction);
        let (Some([hour, minute, second]), true) = (parts, fraction_good) else {
            return Err(self.malformed(field, text));
        };
        let digits = fraction.bytes().chain(std::iter::repeat(b'0')).take(9);
        let nanos = digits.fold(0, |nanos, digit| 10 * nanos + u32::from(digit - b'0'));
        let time = if second == 60 {
            NaiveTime::from_hms_nano_opt(hour, minute, 59, 1_000_000_000 + nanos)
        } else {
            NaiveTime::from_hms_nano_opt(hour, minute, second, nanos)
        };
        time.map(Some).ok_or_else(|| DecodeReject::OutOfRange {
            kind: self.kind,
            field,
            found: text.to_owned(),
            allowed: "000000 to 235960",
        })
    }

    /// A date as `ddmmyy`. Years 83 to 99 are of the last century (the standard is of 1983), the
    /// rest of this one.
    pub(super) fn date(&self, index: usize) -> Result<Option<NaiveDate>, DecodeReject> {
        let text = self.text(index);
        if text.is_empty() {
            return Ok(None);
        }
        let Some([day, month, year]) = two_digit_parts(text) else {
            return Err(self.malformed("date", text));
        };
        let century = if year >= 83 { 1900 } else { 2000 };
        self.calendar(century + year, month, day, text).map(Some)
    }

    /// A calendar date from its parts; `found` is shown when there is no such day.
    pub(super) fn calendar(
        &self,
        year: u32,
        month: u32,
        day: u32,
        found: &str,
    ) -> Result<NaiveDate, DecodeReject> {
        i32::try_from(year)
            .ok()
            .and_then(|year| NaiveDate::from_ymd_opt(year, month, day))
            .ok_or_else(|| DecodeReject::OutOfRange {
                kind: self.kind,
                field: "date",
                found: found.to_owned(),
                allowed: "a day of the calendar",
            })
    }

    /// One quantity in several units, each as `(index, letter, size of the unit)`. Gives the first
    /// that is present, in the base unit. All that are present must agree within the last digit
    /// sent of each plus 3 %: that tells any two units apart and tolerates talkers whose factors
    /// are slightly wrong (recorded: a fathom 1.3 % short).
    pub(super) fn same_quantity(
        &self,
        field: &'static str,
        range: Range,
        units: &[(usize, &str, f64)],
    ) -> Result<Option<f64>, DecodeReject> {
        let mut first: Option<(f64, f64)> = None;
        for &(index, letter, size) in units {
            let found = self.letter(index + 1, field, letter)?;
            let Some(value) = self.scaled(index, field, size, range)? else {
                continue;
            };
            if found.is_none() {
                return Err(self.malformed(field, "value without its letter"));
            }
            let resolution = last_digit(self.text(index)) * size;
            match first {
                None => first = Some((value, resolution)),
                Some((other, other_resolution)) => {
                    let allowed = resolution + other_resolution + 0.03 * other.abs();
                    if (value - other).abs() > allowed {
                        return Err(DecodeReject::Inconsistent {
                            kind: self.kind,
                            fields: field,
                        });
                    }
                }
            }
        }
        Ok(first.map(|(value, _)| value))
    }
}

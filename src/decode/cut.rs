//! A sentence cut at its commas in one pass. In: the text of a sentence. Out: its address, and where each
//! field ends. Knows no kind of sentence.

use smallvec::SmallVec;

use super::outcome::DecodeReject;

/// Fields of a usual sentence; more need memory of their own.
const USUAL_FIELDS: usize = 20;

/// Where each field ends in the data; small, because it is handed on.
pub(super) type Ends = SmallVec<[u32; USUAL_FIELDS]>;

/// No sentence has more bytes behind its address.
const MOST_BYTES: usize = 1 << 20;

/// Bytes that do more behind the address than to lengthen a field.
const SPECIAL: [bool; 256] = {
    let mut special = [true; 256];
    let mut byte = b' ';
    while byte <= b'~' {
        special[byte as usize] = matches!(byte, b',' | b'*' | b'$' | b'!' | b'\\');
        byte += 1;
    }
    special
};

/// A sentence cut at its commas.
#[derive(Debug)]
pub(super) struct Cut<'a> {
    /// Talker and kind: letters and digits.
    pub(super) address: &'a str,
    /// Everything between the address's comma and the checksum.
    pub(super) data: &'a str,
    /// Where the fields end in the data. A sentence without a comma has one field, and it is empty.
    pub(super) ends: Ends,
}

impl<'a> Cut<'a> {
    /// Cuts a sentence whose frame is sound: `$` first, then printable characters, and nothing behind
    /// the checksum but the line end.
    pub(super) fn new(sentence: &'a str) -> Result<Self, DecodeReject> {
        let garbled = |why| DecodeReject::Garbled { why };
        let text = (sentence.trim_end_matches(['\r', '\n']).strip_prefix('$'))
            .ok_or_else(|| garbled("it does not begin with $"))?;
        let address_ends = text.bytes().position(|b| !b.is_ascii_alphanumeric());
        let (address, behind) = text.split_at(address_ends.unwrap_or(text.len()));
        let behind = match behind.as_bytes().first() {
            Some(b',') if !address.is_empty() => &behind[1..],
            Some(b'*') | None if !address.is_empty() => behind,
            _ => return Err(garbled("the address is not letters and digits")),
        };
        if behind.len() > MOST_BYTES {
            return Err(garbled("it is longer than any sentence"));
        }
        let bytes = behind.as_bytes();
        let special = |from: usize| {
            let found = bytes.get(from..)?.iter();
            let at = found.copied().position(|b| SPECIAL[usize::from(b)])?;
            Some(from + at)
        };
        let (mut ends, mut end) = (Ends::new(), bytes.len());
        let mut from = 0;
        while let Some(at) = special(from) {
            match bytes[at] {
                b',' => ends.push(at as u32),
                b'*' => {
                    end = at;
                    break;
                }
                b'$' | b'!' | b'\\' => return Err(garbled("another sentence begins inside it")),
                _ => {
                    let why = "it holds characters that are not printable ASCII";
                    return Err(garbled(why));
                }
            }
            from = at + 1;
        }
        ends.push(end as u32);
        // Some talkers leave out a leading zero.
        if let Some(digits) = bytes.get(end + 1..)
            && !(matches!(digits.len(), 1 | 2) && digits.iter().all(u8::is_ascii_hexdigit))
        {
            let why = "what follows * is not one or two hexadecimal digits";
            return Err(garbled(why));
        }
        Ok(Self {
            address,
            data: &behind[..end],
            ends,
        })
    }
}

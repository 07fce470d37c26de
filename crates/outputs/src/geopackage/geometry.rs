//! The geometry blob: a header and well-known binary, little-endian.
//!
//! Source: OGC 12-128r17, clause 2.1.3; OGC 06-103r4, clause 8.

use crate::layers::Shape;

/// Bounding box in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    pub(super) min_x: f64,
    pub(super) min_y: f64,
    pub(super) max_x: f64,
    pub(super) max_y: f64,
}

impl Extent {
    /// The box around a shape.
    pub(super) fn of(shape: &Shape) -> Self {
        let nothing = Self {
            min_x: f64::INFINITY,
            min_y: f64::INFINITY,
            max_x: f64::NEG_INFINITY,
            max_y: f64::NEG_INFINITY,
        };
        super::places(shape)
            .iter()
            .map(|p| Self {
                min_x: p.lon_deg(),
                min_y: p.lat_deg(),
                max_x: p.lon_deg(),
                max_y: p.lat_deg(),
            })
            .fold(nothing, Self::union)
    }

    /// The box around two.
    pub(super) fn union(self, other: Self) -> Self {
        Self {
            min_x: self.min_x.min(other.min_x),
            min_y: self.min_y.min(other.min_y),
            max_x: self.max_x.max(other.max_x),
            max_y: self.max_y.max(other.max_y),
        }
    }
}

/// Little-endian header, no envelope.
const FLAGS_PLAIN: u8 = 0b0000_0001;
/// Little-endian header, envelope of x and y.
const FLAGS_WITH_ENVELOPE: u8 = 0b0000_0011;
/// Little-endian well-known binary.
const LITTLE_ENDIAN: u8 = 1;

/// The blob of a shape.
pub(super) fn blob(shape: &Shape, srs_id: i32) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(64 + 16 * super::places(shape).len());
    bytes.extend_from_slice(b"GP");
    bytes.push(0);
    let (flags, type_code) = match shape {
        Shape::Point(_) => (FLAGS_PLAIN, 1),
        Shape::Line(_) => (FLAGS_WITH_ENVELOPE, 2),
        Shape::Area(_) => (FLAGS_WITH_ENVELOPE, 3),
    };
    bytes.push(flags);
    bytes.extend_from_slice(&srs_id.to_le_bytes());
    if flags == FLAGS_WITH_ENVELOPE {
        let e = Extent::of(shape);
        push_numbers(&mut bytes, [e.min_x, e.max_x, e.min_y, e.max_y]);
    }
    bytes.push(LITTLE_ENDIAN);
    push_count(&mut bytes, type_code);
    let places = super::places(shape);
    match shape {
        Shape::Point(_) => {}
        Shape::Line(_) => push_count(&mut bytes, places.len() as u32),
        Shape::Area(_) => {
            push_count(&mut bytes, 1);
            push_count(&mut bytes, places.len() as u32);
        }
    }
    for place in places {
        push_numbers(&mut bytes, [place.lon_deg(), place.lat_deg()]);
    }
    bytes
}

fn push_count(bytes: &mut Vec<u8>, value: u32) {
    bytes.extend_from_slice(&value.to_le_bytes());
}

fn push_numbers<const N: usize>(bytes: &mut Vec<u8>, values: [f64; N]) {
    for value in values {
        bytes.extend_from_slice(&value.to_le_bytes());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geodesy::LonLat;

    /// Bytes put together by hand from clause 2.1.3.
    #[test]
    fn exact_point_blob() {
        let shape = Shape::Point(LonLat::new(1.0, 2.0).unwrap());
        let mut expected = vec![b'G', b'P', 0, 1, 0xe6, 0x10, 0, 0, 1, 1, 0, 0, 0];
        expected.extend_from_slice(&[0, 0, 0, 0, 0, 0, 0xf0, 0x3f]);
        expected.extend_from_slice(&[0, 0, 0, 0, 0, 0, 0, 0x40]);
        assert_eq!(blob(&shape, 4326), expected);
    }

    #[test]
    fn exact_line_blob_has_envelope_and_count() {
        let ends = [(3.0, 5.0), (1.0, 7.0)].map(|(x, y)| LonLat::new(x, y).unwrap());
        let bytes = blob(&Shape::Line(ends), 4326);
        let number = |at: usize| f64::from_le_bytes(bytes[at..at + 8].try_into().unwrap());
        assert_eq!(bytes[3], 0b11);
        assert_eq!([8, 16, 24, 32].map(number), [1.0, 3.0, 5.0, 7.0]);
        assert_eq!(bytes[40..49], [1, 2, 0, 0, 0, 2, 0, 0, 0]);
        assert_eq!(bytes.len(), 49 + 32);
    }
}

//! Ids that stay: the same case gives the same ids whenever it goes out, so that a system that has it already replaces it.

use sha2::{Digest, Sha256};

use crate::record::hash::hexadecimal;

/// A UUID of version 8 (RFC 9562): the first bytes of the SHA-256 of what the resource is of.
pub(super) fn of(parts: &[&str]) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update(part.len().to_be_bytes());
        hash.update(part);
    }
    let mut bytes: Vec<u8> = hash.finalize().iter().copied().take(16).collect();
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    let hex = hexadecimal(&bytes);
    [&hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..]].join("-")
}

#[cfg(test)]
mod tests {
    use super::of;

    #[test]
    fn an_id_is_a_uuid_that_stays_and_differs_with_each_part() {
        let id = of(&["practice", "EX-01", "Procedure"]);
        assert_eq!(id, of(&["practice", "EX-01", "Procedure"]));
        assert_ne!(id, of(&["practice", "EX-0", "1Procedure"]));
        assert_eq!((id.len(), &id[14..15]), (36, "8"));
        assert!("89ab".contains(&id[19..20]));
    }
}

//! Where a file lies: whether its disk is one of this machine.

use std::path::Path;

/// Whether a file that is there lies on another machine. What the system does not tell counts as its own disk.
#[cfg(target_os = "linux")]
#[must_use]
pub fn is_shared(path: &Path) -> bool {
    rustix::fs::statfs(path).is_ok_and(|disk| is_share(disk.f_type as u32))
}

#[cfg(target_os = "linux")]
fn is_share(kind: u32) -> bool {
    SHARES.contains(&kind)
}

/// Types of file systems over a network (linux/magic.h): NFS, SMB, CIFS, SMB2, AFS, Coda, NCP, 9P, Ceph, GFS2, OCFS2.
#[cfg(target_os = "linux")]
const SHARES: [u32; 11] = [
    0x6969,
    0x517B,
    0xFF53_4D42,
    0xFE53_4D42,
    0x5346_414F,
    0x7375_7245,
    0x564C,
    0x0102_1997,
    0x00C3_6400,
    0x0116_1970,
    0x7461_636F,
];

/// Whether a file that is there lies on another machine. What the system does not tell counts as its own disk.
#[cfg(target_os = "macos")]
#[must_use]
pub fn is_shared(path: &Path) -> bool {
    const LOCAL: u32 = 0x1000; // MNT_LOCAL of sys/mount.h
    rustix::fs::statfs(path).is_ok_and(|disk| disk.f_flags & LOCAL == 0)
}

/// Whether a file that is there lies on another machine: under the name of a share, also behind the letter of a drive.
#[cfg(windows)]
#[must_use]
pub fn is_shared(path: &Path) -> bool {
    use std::path::{Component, Prefix};
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let prefix = path.components().next();
    matches!(prefix, Some(Component::Prefix(prefix)) if matches!(prefix.kind(), Prefix::UNC(..) | Prefix::VerbatimUNC(..)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_of_this_machine_is_not_shared() {
        let file = tempfile::NamedTempFile::new().unwrap();
        assert!(!is_shared(file.path()));
    }

    /// The control files of the kernel are no share; their type is read where a share's is.
    #[cfg(target_os = "linux")]
    #[test]
    fn the_type_of_a_disk_is_the_one_of_the_kernels_list() {
        let disk = rustix::fs::statfs("/proc").unwrap();
        assert_eq!(disk.f_type as u32, 0x9FA0, "PROC_SUPER_MAGIC");
        assert!(!is_shared(Path::new("/proc")));
        for (kind, name) in [(0x6969, "NFS"), (0xFE53_4D42, "SMB2"), (0x0102_1997, "9P")] {
            assert!(is_share(kind), "{name}");
        }
        for (kind, name) in [(0xEF53, "ext4"), (0x0102_1994, "tmpfs"), (0x9123_683E, "btrfs"), (0x794C_7630, "overlay")]
        {
            assert!(!is_share(kind), "{name}");
        }
    }
}

//! Files that are not text at all, told by their first bytes.

/// What a binary file is, by its signature (the magic number that each format publishes).
pub(super) fn kind(head: &[u8]) -> Option<&'static str> {
    const SIGNATURES: &[(usize, &[u8], &str)] = &[
        (0, b"\xFF\xD8\xFF", "a JPEG image"),
        (0, b"\x89PNG\r\n\x1A\n", "a PNG image"),
        (0, b"GIF89a", "a GIF image"),
        (0, b"PK\x03\x04", "a ZIP archive or a spreadsheet"),
        (0, b"PK\x05\x06", "an empty ZIP archive"),
        (0, b"\x1F\x8B", "gzip-compressed data"),
        (0, b"BZh91AY&SY", "bzip2-compressed data"),
        (0, b"\xFD7zXZ\0", "xz-compressed data"),
        (0, b"\x28\xB5\x2F\xFD", "Zstandard-compressed data"),
        (0, b"7z\xBC\xAF\x27\x1C", "a 7z archive"),
        (0, b"Rar!\x1A\x07", "a RAR archive"),
        (0, b"%PDF-", "a PDF document"),
        (4, b"ftyp", "an MP4 or QuickTime video"),
        (0, b"RIFF", "a RIFF video, sound or image"),
        (0, b"\x1A\x45\xDF\xA3", "a Matroska video"),
        (0, b"OggS", "an Ogg sound or video"),
        (0, b"\x89HDF\r\n\x1A\n", "an HDF5 file"),
        (0, b"SQLite format 3\0", "an SQLite database"),
        (0, b"\x7FELF", "a program"),
        (0, b"MZ\x90", "a program"),
        (0, b"\xD0\xCF\x11\xE0", "an old spreadsheet or document"),
        (0, b"II*\0", "a TIFF image"),
        (0, b"MM\0*", "a TIFF image"),
    ];
    SIGNATURES
        .iter()
        .find(|(offset, signature, _)| head.get(*offset..).is_some_and(|rest| rest.starts_with(signature)))
        .map(|&(.., name)| name)
}

/// True where decoded text holds more control characters than any text would.
pub(super) fn is_binary(text: &str) -> bool {
    // Zeros at the end are what a dying battery leaves in a text file; they say nothing.
    let text = text.trim_end_matches('\0');
    let odd = |c: &char| c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\x0C' | '\x1A');
    let controls = text.chars().filter(odd).count();
    controls > 8 && controls * 50 > text.chars().count()
}

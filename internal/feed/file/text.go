package file

import (
	"bytes"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"icehand/internal/base/fault"
	"icehand/internal/feed/archive"
)

// checkSize refuses a file that is empty or larger than the limit.
func checkSize(data []byte, opt Options) error {
	limit := opt.MaxBytes
	if limit <= 0 {
		limit = MaxBytes
	}
	if len(data) > limit {
		return fault.New(fault.BadInput, "Cut it into parts, or thin it.", "the file has %d bytes, more than the %d that are read", len(data), limit)
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return fault.New(fault.BadInput, "", "the file is empty")
	}
	return nil
}

// content gives the file without a byte-order mark of UTF-8 and the blanks at its start.
func content(data []byte) []byte {
	data = bytes.TrimPrefix(data, []byte{0xef, 0xbb, 0xbf})
	return data[skipSpace(data, 0):]
}

// LooksJSON tells JSON from a table by its first character.
func LooksJSON(data []byte) bool {
	b := content(data)
	return len(b) > 0 && (b[0] == '{' || b[0] == '[')
}

// foreign names formats that are recognised only to say what to save instead.
var foreign = []struct{ magic, what string }{
	{archive.Magic, "a spreadsheet or zip file"},
	{"\xd0\xcf\x11\xe0", "an old spreadsheet file"},
	{"%PDF", "a PDF"},
	{"\xff\xd8\xff", "a photo"},
	{"\x89PNG", "a picture"},
	{"<", "XML"},
}

// checkForeign refuses what is not text of ours.
func checkForeign(data []byte) error {
	start := content(data)
	for _, f := range foreign {
		if bytes.HasPrefix(start, []byte(f.magic)) {
			return fault.New(fault.BadInput, "Save or export it as CSV (rows) or as GeoJSON in WGS 84 (outlines, points).", "this is %s, which is not read", f.what)
		}
	}
	return nil
}

// toText decodes UTF-8, UTF-16 and, when it is neither, Latin-1 with the Windows additions; encoding names what was found.
func toText(data []byte) (text, encoding string, err error) {
	switch {
	case bytes.HasPrefix(data, []byte{0xef, 0xbb, 0xbf}):
		data = data[3:]
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return fromUTF16(data[2:], 0), "UTF-16", nil
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return fromUTF16(data[2:], 1), "UTF-16", nil
	}
	if i := bytes.IndexByte(data, 0); i >= 0 {
		if odd, ok := unmarkedUTF16(data); ok {
			return fromUTF16(data, 1-odd), "UTF-16", nil
		}
		return "", "", fault.New(fault.BadInput, "Save it again as CSV in UTF-8.", "byte %d of the file is zero: this is not text", i+1)
	}
	if utf8.Valid(data) {
		return string(data), "UTF-8", nil
	}
	var b strings.Builder
	b.Grow(len(data) + len(data)/8)
	for _, c := range data {
		if c >= 0x80 && c < 0xa0 {
			b.WriteRune(windows1252[c-0x80])
		} else {
			b.WriteRune(rune(c))
		}
	}
	return b.String(), "Latin-1", nil
}

// unmarkedUTF16 recognises UTF-16 without a byte-order mark by its zero bytes: nearly all at odd or nearly all at even
// offsets. odd is 1 when the zeros stand at odd offsets (little-endian).
func unmarkedUTF16(data []byte) (odd int, ok bool) {
	var zeros [2]int
	n := min(len(data), 4096) &^ 1
	for i, c := range data[:n] {
		if c == 0 {
			zeros[i&1]++
		}
	}
	for odd := range 2 {
		if zeros[odd] > n/2*8/10 && zeros[1-odd] == 0 {
			return odd, true
		}
	}
	return 0, false
}

// fromUTF16 decodes; high is the offset of the high byte in each pair.
func fromUTF16(data []byte, endian int) string {
	var b strings.Builder
	b.Grow(len(data) / 2)
	unit := func(i int) rune {
		lo, hi := data[i], data[i+1]
		if endian == 1 {
			lo, hi = hi, lo
		}
		return rune(lo) | rune(hi)<<8
	}
	for i := 0; i+1 < len(data); i += 2 {
		r := unit(i)
		if utf16.IsSurrogate(r) {
			if i+3 < len(data) {
				if pair := utf16.DecodeRune(r, unit(i+2)); pair != utf8.RuneError {
					b.WriteRune(pair)
					i += 2
					continue
				}
			}
			r = utf8.RuneError
		}
		b.WriteRune(r)
	}
	return b.String()
}

// windows1252 holds the characters 0x80 to 0x9f of Windows code page 1252, where Latin-1 has control characters
// [WHATWGEncoding, index windows-1252].
var windows1252 = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8d, 'Ž', 0x8f,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9d, 'ž', 'Ÿ',
}

// Package archive answers what lies in a zip file, without believing what the file says about itself.
//
// Start with [Open], then [Archive.Find] and [Archive.Read]. Everything happens in memory: no name from an archive ever
// becomes a path on a disk. It assumes that the archive may have been made to harm [APPNOTE]: the number of its files, what they
// unfold to, their names and the places of their bytes are all checked before one is read.
// It leaves out encryption, zip64, methods other than store and deflate, and archives inside archives: charts come in none.
package archive

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path"
	"sort"
	"strings"
	"unicode/utf8"

	"icehand/internal/base/fault"
)

// Magic is how a zip file begins.
const Magic = "PK\x03\x04"

// Bounds on an archive. A zipped chart holds a dozen files.
const (
	maxFiles = 200
	maxName  = 255
)

// Archive is a zip file whose directory has been checked.
type Archive struct {
	files []*zip.File
	left  int // bytes that may still be unfolded
}

// Open reads and checks the directory of a zip file. All files together may unfold to no more than limit bytes.
func Open(data []byte, limit int) (*Archive, error) {
	// The reader follows the directory whatever the count at its end says, so the entries are counted first.
	if n := bytes.Count(data, []byte("PK\x01\x02")); n > maxFiles {
		return nil, fault.New(fault.BadInput, "Zip the one chart alone.", "the zip file holds some %d files, more than the %d that are read", n, maxFiles)
	}
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Fetch or copy it again; export a spreadsheet as CSV.", "the zip file is damaged or cut off")
	}
	a := Archive{left: limit}
	seen := map[string]bool{}
	total := uint64(0)
	for _, f := range r.File {
		if strings.HasSuffix(f.Name, "/") && f.UncompressedSize64 == 0 {
			continue // a folder
		}
		if err := checkName(f.Name); err != nil {
			return nil, err
		}
		key := strings.ToLower(f.Name)
		if seen[key] {
			return nil, fault.New(fault.BadInput, "Zip it again.", "the zip file holds two files called %q", f.Name)
		}
		seen[key] = true
		if f.Flags&1 != 0 {
			return nil, fault.New(fault.BadInput, "Zip it again without a password.", "%q in the zip file is encrypted", f.Name)
		}
		if f.Method != zip.Store && f.Method != zip.Deflate {
			return nil, fault.New(fault.BadInput, "Zip it again in the ordinary way.", "%q in the zip file is packed by method %d, which is not read", f.Name, f.Method)
		}
		// Each size is bounded by itself first, so that the sum cannot run over.
		if f.UncompressedSize64 > uint64(limit) || total+f.UncompressedSize64 > uint64(limit) {
			return nil, fault.New(fault.BadInput, "Zip the one chart alone, or thin it.", "the zip file unfolds to more than the %d bytes that are read", limit)
		}
		total += f.UncompressedSize64
		a.files = append(a.files, f)
	}
	if len(a.files) == 0 {
		return nil, fault.New(fault.BadInput, "", "the zip file holds no file")
	}
	if err := checkOverlap(a.files); err != nil {
		return nil, err
	}
	return &a, nil
}

// checkName refuses names that would lead out of a folder, and names that cannot be shown.
func checkName(name string) error {
	bad := len(name) > maxName || !utf8.ValidString(name) || strings.ContainsAny(name, "\\:") || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f })
	if bad || path.IsAbs(name) || path.Clean(name) != name || name == ".." || strings.HasPrefix(name, "../") {
		return fault.New(fault.BadInput, "Zip the files again without their folders.", "the zip file holds a file with the name %.80q, which is not a plain name", name)
	}
	return nil
}

// checkOverlap refuses files that share bytes: a small archive can so unfold to a huge one.
func checkOverlap(files []*zip.File) error {
	type span struct{ from, to int64 }
	spans := make([]span, len(files))
	for i, f := range files {
		from, err := f.DataOffset()
		if err != nil {
			return fault.Wrap(err, fault.BadInput, "Fetch or copy it again; export a spreadsheet as CSV.", "the zip file is damaged or cut off")
		}
		spans[i] = span{from, from + int64(f.CompressedSize64)}
	}
	sort.Slice(spans, func(i, j int) bool { return spans[i].from < spans[j].from })
	for i := 1; i < len(spans); i++ {
		if spans[i].from < spans[i-1].to || spans[i].from == spans[i-1].from {
			return fault.New(fault.BadInput, "Zip it again.", "files in the zip file share the same bytes")
		}
	}
	return nil
}

// Names gives the names of all files in their order.
func (a *Archive) Names() []string {
	names := make([]string, len(a.files))
	for i, f := range a.files {
		names[i] = f.Name
	}
	return names
}

// Find gives the names of the files with an extension such as ".shp", whatever its case, what desktops add to archives left out.
func (a *Archive) Find(ext string) []string {
	var found []string
	for _, f := range a.files {
		if base := path.Base(f.Name); strings.EqualFold(path.Ext(base), ext) && !strings.HasPrefix(base, ".") && !strings.HasPrefix(f.Name, "__MACOSX/") {
			found = append(found, f.Name)
		}
	}
	return found
}

// Beside gives the name of the file that belongs to another by its name, with a different extension; "" when there is none.
func (a *Archive) Beside(name, ext string) string {
	want := strings.TrimSuffix(name, path.Ext(name)) + ext
	for _, f := range a.files {
		if strings.EqualFold(f.Name, want) {
			return f.Name
		}
	}
	return ""
}

// Read unfolds one file. What a directory says of a size is not believed: the bytes are counted as they come.
func (a *Archive) Read(name string) ([]byte, error) {
	for _, f := range a.files {
		if f.Name != name {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fault.Wrap(err, fault.BadInput, "Fetch or copy it again.", "%q in the zip file cannot be read", name)
		}
		data, err := io.ReadAll(io.LimitReader(r, int64(a.left)+1))
		if err != nil {
			return nil, fault.Wrap(err, fault.BadInput, "Fetch or copy it again.", "%q in the zip file is damaged or cut off", name)
		}
		if len(data) > a.left {
			return nil, fault.New(fault.BadInput, "Zip the one chart alone, or thin it.", "%q in the zip file unfolds to more than is read", name)
		}
		a.left -= len(data)
		return data, nil
	}
	return nil, fmt.Errorf("archive: reading %s: no such file", name)
}

package archive

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"

	"icehand/internal/base/fault"
)

type entry struct{ name, text string }

func pack(t testing.TB, entries ...entry) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, e := range entries {
		f, err := w.Create(e.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(e.text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestAPlainArchive(t *testing.T) {
	a, err := Open(pack(t, entry{"lake/", ""}, entry{"lake/Depth.SHP", "shape"}, entry{"lake/Depth.dbf", "table"}, entry{"__MACOSX/lake/Depth.shp", "x"}, entry{".hidden.shp", "x"}), 1000)
	if err != nil {
		t.Fatal(err)
	}
	if got := a.Find(".shp"); len(got) != 1 || got[0] != "lake/Depth.SHP" {
		t.Fatal(got)
	}
	if got := a.Beside("lake/Depth.SHP", ".dbf"); got != "lake/Depth.dbf" {
		t.Error(got)
	}
	if got, err := a.Read("lake/Depth.dbf"); err != nil || string(got) != "table" {
		t.Error(got, err)
	}
	if _, err := a.Read("nothing"); err == nil {
		t.Error("a file that is not there is read")
	}
}

// Bombs: many files, names that lead out, names that meet, bytes that are shared, sizes that lie.
func TestHostileArchives(t *testing.T) {
	many := make([]entry, maxFiles+1)
	for i := range many {
		many[i].name = fmt.Sprint("f", i)
	}
	shared := pack(t, entry{"a.shp", "12345678"}, entry{"b.shp", "12345678"})
	// the second entry of the directory is pointed at the bytes of the first
	second := bytes.LastIndex(shared, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(shared[second+42:], 0)
	lying := pack(t, entry{"a.kml", strings.Repeat("x", 100_000)})
	binary.LittleEndian.PutUint32(lying[bytes.Index(lying, []byte("PK\x01\x02"))+24:], 10)
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"201 files":             {pack(t, many...), "more than the 200"},
		"out of the folder":     {pack(t, entry{"../../etc/x.shp", "x"}), "not a plain name"},
		"out from inside":       {pack(t, entry{"a/../../x.shp", "x"}), "not a plain name"},
		"absolute":              {pack(t, entry{"/etc/x.shp", "x"}), "not a plain name"},
		"drive":                 {pack(t, entry{"C:\\x.shp", "x"}), "not a plain name"},
		"line break":            {pack(t, entry{"a\nb.shp", "x"}), "not a plain name"},
		"the same name":         {pack(t, entry{"a.shp", "x"}, entry{"a.shp", "y"}), "two files"},
		"the same but for case": {pack(t, entry{"a.shp", "x"}, entry{"A.SHP", "y"}), "two files"},
		"shared bytes":          {shared, "share the same bytes"},
		"too much":              {pack(t, entry{"a.kml", strings.Repeat("x", 100_001)}), "more than the 100000"},
		"too much in sum":       {pack(t, entry{"a.kml", strings.Repeat("x", 60_000)}, entry{"b.kml", strings.Repeat("x", 60_000)}), "more than the 100000"},
		"cut off":               {pack(t, entry{"a.kml", "x"})[:40], "damaged"},
		"empty":                 {pack(t), "no file"},
	} {
		if _, err := Open(c.data, 100_000); fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	a, err := Open(lying, 50_000)
	if err != nil {
		t.Fatal(err)
	}
	if data, err := a.Read("a.kml"); err == nil {
		t.Errorf("a size that lies unfolds to %d bytes", len(data))
	}
}

// Whatever the bytes, opening an archive does not panic, and what is read never exceeds the limit in sum.
func FuzzArchive(f *testing.F) {
	f.Add(pack(f, entry{"a.shp", "x"}, entry{"b.dbf", strings.Repeat("y", 1000)}))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, data []byte) {
		const limit = 1 << 16
		a, err := Open(data, limit)
		if err != nil {
			return
		}
		sum := 0
		for _, name := range a.Names() {
			b, err := a.Read(name)
			if err == nil {
				sum += len(b)
			}
		}
		if sum > limit {
			t.Fatalf("%d bytes", sum)
		}
	})
}

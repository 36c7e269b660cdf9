package shapefile

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"io"
	"strings"
	"testing"

	"icehand/internal/feed/file"
)

// The samples were written by GDAL 3.6.2; package chart says how and compares their places.
func sample(t testing.TB, name string) map[string][]byte {
	t.Helper()
	r, err := zip.OpenReader("../chart/testdata/shapes/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	parts := map[string][]byte{}
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if parts[f.Name[strings.LastIndexByte(f.Name, '.'):]], err = io.ReadAll(in); err != nil {
			t.Fatal(err)
		}
	}
	if len(parts) < 3 {
		t.Fatalf("%s holds %d files", name, len(parts))
	}
	return parts
}

func pack(t testing.TB, parts map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for ext, data := range parts {
		f, err := w.Create("a" + ext)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestValuesStandBesideTheirShapes(t *testing.T) {
	f, err := Read(pack(t, sample(t, "depths-4326.zip")), file.Options{})
	if err != nil || len(f.Shapes) != 3 || strings.Join(f.Fields, " ") != "DEPTH_FT WHO" || !strings.HasPrefix(f.Projection, "GEOGCS[") {
		t.Fatalf("%+v %v", f, err)
	}
	for i, want := range []string{"Bänk", "x", "x"} {
		if f.Shapes[i].Values[1] != want || f.Shapes[i].Row != i+1 || len(f.Shapes[i].Points) != 1 {
			t.Errorf("%+v", f.Shapes[i])
		}
	}
}

func TestDamage(t *testing.T) {
	whole := sample(t, "lake-4326.zip")
	for name, c := range map[string]struct {
		change func(m map[string][]byte)
		want   string
	}{
		"cut off":              {func(m map[string][]byte) { m[".shp"] = m[".shp"][:150] }, "cut off"},
		"not a shapefile":      {func(m map[string][]byte) { m[".shp"] = []byte("text") }, "not a shapefile"},
		"a record beyond":      {func(m map[string][]byte) { binary.BigEndian.PutUint32(m[".shp"][104:], 1<<31) }, "cut off in record 1"},
		"a table beyond":       {func(m map[string][]byte) { binary.LittleEndian.PutUint32(m[".dbf"][4:], 1<<31) }, ".dbf file is damaged"},
		"a short table":        {func(m map[string][]byte) { m[".dbf"] = m[".dbf"][:10] }, ".dbf file is damaged"},
		"no table, no problem": {func(m map[string][]byte) { delete(m, ".dbf") }, ""},
		"too many points":      {func(m map[string][]byte) { binary.LittleEndian.PutUint32(m[".shp"][148:], 1<<31) }, "bad: the record is too short"},
		"parts out of order":   {func(m map[string][]byte) { binary.LittleEndian.PutUint32(m[".shp"][156:], 1<<30) }, "bad: the parts of its polygon overlap"},
		"a type that is not":   {func(m map[string][]byte) { binary.LittleEndian.PutUint32(m[".shp"][108:], 31) }, "bad: its type of shape, 31"},
	} {
		m := map[string][]byte{}
		for k, v := range whole {
			m[k] = bytes.Clone(v)
		}
		c.change(m)
		f, err := Read(pack(t, m), file.Options{})
		got := ""
		switch {
		case err != nil:
			got = err.Error()
		case f.Shapes[0].Bad != "":
			got = "bad: " + f.Shapes[0].Bad
		}
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// Whatever the bytes of the three files, reading does not panic; rings have a point; records have at most one value a field.
func FuzzShapefile(f *testing.F) {
	for _, n := range []string{"lake-26923.zip", "depths-4269.zip"} {
		p := sample(f, n)
		f.Add(p[".shp"], p[".dbf"], string(p[".prj"]))
	}
	f.Fuzz(func(t *testing.T, shp, dbf []byte, prj string) {
		all, err := shapes(shp)
		if err != nil {
			return
		}
		x := File{Shapes: all}
		if err := x.table(dbf); err != nil {
			return
		}
		for _, s := range x.Shapes {
			for _, g := range s.Polygons {
				for _, ring := range g {
					if len(ring) == 0 {
						t.Fatalf("%+v", s)
					}
				}
			}
			if s.Values != nil && len(s.Values) != len(x.Fields) {
				t.Fatalf("%+v", s)
			}
		}
	})
}

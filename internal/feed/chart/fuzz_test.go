package chart

import (
	"testing"

	"icehand/internal/feed/file"
)

// Whatever the bytes, reading an outline does not panic, and an outline that is taken has closed shapes of three points
// or more, all of them on the globe.
func FuzzOutline(f *testing.F) {
	for _, s := range []string{
		`{"type":"Polygon","coordinates":[` + square(-45, 47.9, 0.1) + `,` + square(-44.95, 47.95, 0.01) + `]}`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"x"},"geometry":{"type":"MultiPolygon","coordinates":[[` + square(-45, 47.9, 0.1) + `]]}}]}`,
		`{"type":"Polygon","coordinates":[[[1e999,47],[-44.9,47.9],[540,91],[1e999,47]]]}`,
		`{"type":"Polygon","crs":{"properties":{"name":"EPSG:26915"}}}`, `{"type":"Feature","geometry":null}`, `[[[[`, "\xff\xfe{\x00}\x00", "<a/>",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		o, p, err := ReadOutline("f", data, file.Options{MaxBytes: 1 << 20})
		if err != nil {
			return
		}
		if len(o.Polygons) == 0 || p.Taken != len(o.Polygons) || p.Taken != p.Rows {
			t.Fatalf("%+v", p)
		}
		for _, g := range o.Polygons {
			for _, ring := range append(g.Islands, g.Outer) {
				if len(ring) < 3 {
					t.Fatalf("ring %v", ring)
				}
				for _, q := range ring {
					if !q.Valid() {
						t.Fatalf("position %v", q)
					}
				}
			}
		}
	})
}

// Whatever the bytes, reading soundings does not panic; every sounding taken lies on the globe at a depth within bounds;
// and rows taken, refused, repeated and blank add up to the rows read.
func FuzzSoundings(f *testing.F) {
	for _, s := range []string{
		"lat,lon,depth (ft)\n47.9,-45,36\n47.9,-45,36\n,,\n91,540,1e999\n", "LAT_DMM;LON_DMM;Depth '\n4754.123N;4500.5W;36 1/2\n",
		"x,y,z\n1,2,3\n", "Zone,Easting,Northing,depth_m\n23N,500000,5305000,11,6\n", "UTM zone 23\neasting,northing,depth_m\n1,2,3",
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"depth_m":1e3},"geometry":{"type":"Point","coordinates":[-45,47.9]}}]}`,
		"\xff\xfel\x00a\x00t\x00", "lat,lon,\"depth_m\n47,-45,\"\"3", "a\x00b", "position,depth_m\n\"47-54N, 45-0W\",3\n",
	} {
		f.Add([]byte(s), "")
		f.Add([]byte(s), "15N")
	}
	f.Fuzz(func(t *testing.T, data []byte, zone string) {
		s, p, err := ReadSoundings("f", data, file.Options{MaxBytes: 1 << 20, UTMZone: zone, Unit: "m"})
		if err != nil {
			return
		}
		if p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows || p.Taken != len(s.Points) || p.Taken == 0 {
			t.Fatalf("%+v", p)
		}
		for _, x := range s.Points {
			if !x.Pos.Valid() || !(x.Depth > 0 && x.Depth <= maxDepth) || x.Row < 1 {
				t.Fatalf("%+v", x)
			}
		}
	})
}

package projection

import (
	"math"
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

// Texts as GDAL 3.6.2 writes them, `gdalsrsinfo -o wkt_esri EPSG:n` (and wkt1 for the last).
const (
	nad83 = `GEOGCS["GCS_North_American_1983",DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	nad27 = `GEOGCS["GCS_North_American_1927",DATUM["D_North_American_1927",SPHEROID["Clarke_1866",6378206.4,294.9786982]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	utm15 = `PROJCS["NAD_1983_UTM_Zone_15N",` + nad83 + `,PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",-93.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
	south = `PROJCS["WGS 84 / UTM zone 33S",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",15],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],PARAMETER["false_northing",10000000],UNIT["metre",1],AXIS["Easting",EAST],AXIS["Northing",NORTH]]`
)

func TestSystems(t *testing.T) {
	for _, c := range []struct {
		name, text string
		x, y       float64
		want       geo.Position
		nad83      bool
	}{
		{"degrees", nad83, -93.5, 46.5, geo.Position{Lat: 46.5, Lon: -93.5}, true},
		// GeographicLib 2.1.2, GeoConvert: 46.21735 N 93.68412 W is 15N 447234.857 5118424.463
		{"GeoConvert: UTM 15N", utm15, 447234.857, 5118424.463, geo.Position{Lat: 46.21735, Lon: -93.68412}, true},
		{"the middle of a southern zone by definition", south, 500_000, 10_000_000, geo.Position{Lat: 0, Lon: 15}, false},
		{"compound", `COMPD_CS["with heights",` + utm15 + `,VERT_CS["NAVD88 height",VERT_DATUM["x",2005],UNIT["metre",1]]]`, 447234.857, 5118424.463, geo.Position{Lat: 46.21735, Lon: -93.68412}, true},
	} {
		s, err := Parse(c.text)
		if err != nil || s.NAD83 != c.nad83 {
			t.Errorf("%s: %+v %v", c.name, s, err)
			continue
		}
		// 1e-8 degree is a millimetre, the last digit of GeoConvert's output
		if p, err := s.Position(c.x, c.y); err != nil || math.Abs(p.Lat-c.want.Lat) > 2e-8 || math.Abs(p.Lon-c.want.Lon) > 2e-8 {
			t.Errorf("%s: %v %v", c.name, p, err)
		}
	}
}

func TestWhatIsRefusedByName(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"NAD27":            {nad27, "D_North_American_1927"},
		"UTM on NAD27":     {strings.Replace(utm15, nad83, nad27, 1), "D_North_American_1927"},
		"feet":             {strings.Replace(utm15, `UNIT["Meter",1.0]`, `UNIT["Foot_US",0.3048006096012192]`, 1), "not in metres"},
		"another meridian": {strings.Replace(utm15, "-93.0", "-94.25", 1), "not those of a UTM zone"},
		"another scale":    {strings.Replace(utm15, "0.9996", "0.99995", 1), "not those of a UTM zone"},
		"Lambert":          {strings.Replace(utm15, "Transverse_Mercator", "Lambert_Conformal_Conic", 1), "it is not UTM"},
		"Paris":            {strings.Replace(nad83, `["Greenwich",0.0]`, `["Paris",2.33722917]`, 1), "not Greenwich"},
		"grads":            {strings.Replace(nad83, "0.0174532925199433", "0.015707963267949", 1), "not in degrees"},
		"local":            {`LOCAL_CS["lake grid",UNIT["metre",1]]`, "no geographic system"},
		"text":             {"EPSG:26915", "well-known text"},
		"nothing":          {"", "well-known text"},
		"deep":             {strings.Repeat(`A[`, 1000), "well-known text"},
	} {
		if _, err := Parse(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestStated(t *testing.T) {
	s, rest, known, err := Stated(file.Options{Map: map[string]string{"x": "lon", "Y": "lat", "Z": "depth"}})
	if err != nil || !known || len(rest.Map) != 1 {
		t.Error(s, rest, known, err)
	}
	if p, err := s.Position(-45, 47); err != nil || p.Lat != 47 {
		t.Error(p, err)
	}
	if _, err := s.Position(445000, 5306000); err == nil {
		t.Error("metres are taken as degrees")
	}
	if _, _, known, _ := Stated(file.Options{Map: map[string]string{"x": "lon"}}); known {
		t.Error("half a statement counts")
	}
}

// Whatever the text, reading it does not panic, and a system that is read gives places on the globe or refuses.
func FuzzProjection(f *testing.F) {
	for _, s := range []string{nad83, utm15, south, "A[B[C[1,-2.e5,\"x\"]]]", "A(1"} {
		f.Add(s, 500_000.0, 5e6)
	}
	f.Fuzz(func(t *testing.T, text string, x, y float64) {
		s, err := Parse(text)
		if err != nil {
			return
		}
		if p, err := s.Position(x, y); err == nil && !p.Valid() {
			t.Fatalf("%+v gives %v", s, p)
		}
	})
}

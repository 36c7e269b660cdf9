package file

import (
	"bytes"
	"encoding/xml"
	"regexp"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/feed/archive"
)

// Format is how a file is written, whatever it holds.
type Format string

// The formats that are read. A zip file counts as the format inside it.
const (
	FormatTable Format = "CSV"
	FormatJSON  Format = "JSON"
	FormatGPX   Format = "GPX"
	FormatKML   Format = "KML"
	FormatGrid  Format = "ESRI ASCII grid"
	FormatShape Format = "shapefile"
	FormatNMEA  Format = "NMEA 0183"
	FormatDaily Format = "daily readings of a station"
)

var (
	gridStart  = regexp.MustCompile(`(?i)^n(?:cols|rows)[ \t]+[0-9]`)
	nmeaLine   = regexp.MustCompile(`(?m)(?:^|[\s,;\]])\$[A-Z]{2}(?:RMC|GGA|DPT|DBT|MTW),`)
	dailyStart = regexp.MustCompile(`^[A-Z]{2}[A-Z0-9_-]{9}(?:[12][0-9]{3}[01][0-9][A-Z0-9]{4}[ -]|,[12][0-9]{7},[A-Z0-9]{4},)`)
)

// DailyHeader tells whether a file begins with the header of a weather station's days, one a line: that of GHCN-Daily's
// access files, or of Canada's GeoMet.
func DailyHeader(data []byte) bool {
	line, _, _ := bytes.Cut(content(data[:min(len(data), 16<<10)]), []byte("\n"))
	names := map[string]bool{}
	for _, name := range strings.Split(strings.ToUpper(string(line)), ",") {
		names[strings.Trim(strings.TrimSpace(name), `"`)] = true
	}
	return names["STATION"] && names["DATE"] && (names["TMAX"] || names["TMIN"] || names["SNWD"]) || names["CLIMATE_IDENTIFIER"] && names["LOCAL_DATE"]
}

// FormatOf tells how a file is written by how it begins. It fails for what is recognised and not read, and for a file that
// is empty or too large.
func FormatOf(data []byte, opt Options) (Format, error) {
	if err := checkSize(data, opt); err != nil {
		return "", err
	}
	start := content(data[:min(len(data), 16<<10)])
	switch {
	case bytes.HasPrefix(start, []byte(archive.Magic)):
		return formatInZip(data)
	case bytes.HasPrefix(start, []byte("\x00\x00\x27\x0a")):
		return "", fault.New(fault.BadInput, "Zip the .shp, .dbf and .prj of the same name together and import the zip file.", "this is a shapefile without its companions")
	case LooksJSON(start):
		return FormatJSON, nil
	case len(start) > 0 && start[0] == '<':
		return formatOfMarkup(data)
	case gridStart.Match(start):
		return FormatGrid, nil
	case nmeaLine.Match(start):
		return FormatNMEA, nil
	case dailyStart.Match(start), DailyHeader(data):
		return FormatDaily, nil
	}
	return FormatTable, checkForeign(data)
}

func formatOfMarkup(data []byte) (Format, error) {
	m, err := OpenMarkup(data, Options{})
	if err != nil {
		return "", err
	}
	var root xml.StartElement
	if root, err = m.Root(); err != nil {
		return "", err
	}
	switch root.Name.Local {
	case "gpx":
		return FormatGPX, nil
	case "kml":
		return FormatKML, nil
	}
	return "", fault.New(fault.BadInput, "Save or export it as GPX, KML, CSV (rows) or GeoJSON in WGS 84.", "this is XML with the root %q, which is not read", Short(root.Name.Local))
}

func formatInZip(data []byte) (Format, error) {
	a, err := archive.Open(data, MaxBytes)
	if err != nil {
		return "", err
	}
	switch {
	case len(a.Find(".shp")) > 0:
		return FormatShape, nil
	case len(a.Find(".kml")) > 0:
		return FormatKML, nil
	case len(a.Find(".asc")) > 0:
		return FormatGrid, nil
	}
	for _, name := range a.Names() {
		if name == "[Content_Types].xml" {
			return "", fault.New(fault.BadInput, "Save or export it as CSV (rows).", "this is a spreadsheet, which is not read")
		}
	}
	return "", fault.New(fault.BadInput, "Unpack it and import the one file.", "this is a zip file without a shapefile, KML or grid in it")
}

// detectFormat tells what a file holds that is neither a table nor JSON.
func detectFormat(format Format, data []byte) (Kind, string) {
	switch format {
	case FormatGPX:
		return Soundings, "GPX; its points are soundings when they carry depths"
	case FormatKML:
		if bytes.HasPrefix(data, []byte(archive.Magic)) {
			if data = inZip(data, ".kml"); data == nil {
				return "", "a zip file whose KML cannot be read"
			}
		}
		if bytes.Contains(data, []byte("<Polygon")) || bytes.Contains(data, []byte(":Polygon")) {
			return Outline, "KML with polygons"
		}
		return Soundings, "KML; its points are soundings when they carry depths"
	case FormatGrid:
		return Soundings, "an ESRI ASCII grid"
	case FormatNMEA:
		return Soundings, "sentences of NMEA 0183"
	case FormatDaily:
		return Station, "daily readings of a weather station"
	}
	const typeAt = 32 // offset of the type of shape [ESRI1998, table 1]
	if shp := inZip(data, ".shp"); len(shp) > typeAt {
		switch shp[typeAt] {
		case 5, 15, 25:
			return Outline, "a shapefile with polygons"
		case 1, 8, 11, 18, 21, 28:
			return Soundings, "a shapefile with points"
		case 3, 13, 23:
			return "", "a shapefile with lines only: an outline must be a polygon, soundings must be points"
		}
	}
	return "", "a shapefile whose type of shape is not read"
}

// inZip gives the first file of a zip file that has an extension, nil when there is none to read.
func inZip(data []byte, ext string) []byte {
	a, err := archive.Open(data, MaxBytes)
	if err != nil || len(a.Find(ext)) == 0 {
		return nil
	}
	inner, err := a.Read(a.Find(ext)[0])
	if err != nil {
		return nil
	}
	return inner
}

// KindOfName gives what a name such as "depth_ft" says of the numbers of a file that has no columns, as a column's header would.
func (r *Properties) KindOfName(name string) ColumnMeaning {
	if dot := strings.LastIndexByte(name, '.'); dot > 0 {
		name = name[:dot]
	}
	r.Put(name, "")
	return r.known[name]
}

package file

import (
	"regexp"
	"sort"
	"strings"
	"unicode"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// Meaning is what a column holds, as typed behind --map HEADER=.
type Meaning string

// The meanings. Which of them a file may have depends on its kind.
const (
	Ignore Meaning = "ignore" // a column to leave alone

	Date      Meaning = "date"      // in any style; numbers alone decide by the file's evidence
	DateDMY   Meaning = "date-dmy"  // 14/1/2026
	DateMDY   Meaning = "date-mdy"  // 1/14/2026
	Time      Meaning = "time"      // clock time, or date and time in one
	Position  Meaning = "position"  // latitude and longitude in one cell
	Lat       Meaning = "lat"       // degrees, or degrees and minutes with a sign or blank between
	Lon       Meaning = "lon"       //
	LatDMM    Meaning = "lat-dmm"   // degrees and decimal minutes, also run together: 4754.123
	LonDMM    Meaning = "lon-dmm"   //
	Easting   Meaning = "easting"   // UTM, metres
	Northing  Meaning = "northing"  //
	UTMZone   Meaning = "utm-zone"  // 15N
	Depth     Meaning = "depth"     // of the bottom below the surface, positive down
	DepthUp   Meaning = "depth-up"  // the same written as negative numbers
	Elevation Meaning = "elevation" // of the bottom above the sea: refused, with what to do

	Number  Meaning = "number"
	Ice     Meaning = "ice"
	White   Meaning = "white"
	Snow    Meaning = "snow" // on the ice in a hole log, fallen in the hour in a forecast
	Marks   Meaning = "marks"
	Kept    Meaning = "kept"
	PutBack Meaning = "put-back"
	Species Meaning = "species"
	Lengths Meaning = "lengths"
	Lure    Meaning = "lure"
	Minutes Meaning = "minutes"
	Remarks Meaning = "remarks"

	Temperature Meaning = "temperature"
	Wind        Meaning = "wind"
	Gust        Meaning = "gust"
	WindFrom    Meaning = "wind-from"
	Sky         Meaning = "sky"
	Precip      Meaning = "precip"
	Visibility  Meaning = "visibility"

	askX Meaning = "x?" // x, y and z are recognised only to ask what they are
	askY Meaning = "y?"
	askZ Meaning = "z?"
)

// DashUnknown stands where a unit would (marks:dash-unknown): a dash in this column says nothing, rather than none.
const DashUnknown = "dash-unknown"

// countable are the meanings in which a dash may stand for none.
var countable = map[Meaning]bool{Marks: true, Kept: true, PutBack: true}

var placeWords = map[Meaning]string{
	Position: "position,pos,location,coordinates,coords,latlon,lat lon,lat long,latlong,fix",
	Lat:      "lat,latitude,y lat,lat y,lat n,lat s,latitude n,latitude s,latitude north,latitude south,lat north,lat south", Lon: "lon,long,lng,longitude,x lon,x long,lon x,lon w,lon e,long w,long e,longitude w,longitude e,longitude west,longitude east,lon west,lon east,long west,long east",
	LatDMM: "lat dmm,lat ddm,lat deg min,latitude dmm,latitude deg min,dmm lat", LonDMM: "lon dmm,long dmm,lon ddm,lon deg min,long deg min,longitude dmm,longitude deg min,dmm lon",
	Easting: "easting,east,eastings,utm e,utm x,utm easting,x utm,e", Northing: "northing,north,northings,utm n,utm y,utm northing,y utm,n",
	UTMZone: "zone,utm zone,grid zone",
}

var soundingWords = map[Meaning]string{
	Depth:     "depth,depths,water depth,bottom depth,depth below surface,sounding,soundings,z depth,depth z,depth value,dpth,lake depth",
	Elevation: "elevation,elev,altitude,alt,bed elevation,bottom elevation,lakebed elevation,height,ele",
	askX:      "x,coord x,x coord,point x", askY: "y,coord y,y coord,point y", askZ: "z,coord z,z coord,point z,value",
}

var holeWords = map[Meaning]string{
	Date: "date,day", Time: "time,clock,hour,drilled,time drilled,date time,datetime",
	Number:  "number,no,nr,num,hole,hole no,hole nr,hole number,hole id",
	Depth:   "depth,water depth,bottom,bottom depth",
	Ice:     "ice,ice thickness,thickness,total ice,ice total,ice depth",
	White:   "white,white ice,snow ice,ice white,of which white",
	Snow:    "snow,snow depth,snow cover,snow on ice",
	Marks:   "marks,mark,seen,marks seen,fish seen,echoes",
	Kept:    "kept,fish kept,keep,perch kept,taken home",
	PutBack: "put back,back,fish put back,released,returned,thrown back,let go",
	Species: "species,fish,kind of fish,what fish", Lengths: "lengths,length,sizes,size,fish lengths,fish length",
	Lure: "lure,bait,jig,lure bait,lure colour,lure color", Minutes: "minutes,min,mins,sat,sat min,minutes sat,min sat,time sat,sit,sit min",
	Remarks: "remarks,remark,notes,note,comment,comments",
}

var weatherWords = map[Meaning]string{
	Date: "date,day", Time: "time,date time,datetime,timestamp,hour,valid time,valid,start,start time,utc,local time",
	Temperature: "temperature,temp,air temp,air temperature,air,t", Wind: "wind,wind speed,windspeed,ws,mean wind",
	Gust: "gust,gusts,wind gust,wind gusts,windgust", WindFrom: "wind from,winddir,wind dir,wind direction,direction,dir,from",
	Sky: "sky,cloud,clouds,cloud cover,sky cover,skycover,cloudiness", Snow: "snow,snowfall,new snow,snow fall,snow amount",
	Precip: "precip,precipitation,qpf,rain,liquid,melted", Visibility: "visibility,vis,view",
}

// vocabulary holds for each kind the words of a header, joined by blanks, and their meaning.
var vocabulary = map[Kind]map[string]Meaning{
	Soundings: words(placeWords, soundingWords),
	Holes:     words(placeWords, holeWords),
	Weather:   words(weatherWords),
}

func words(tables ...map[Meaning]string) map[string]Meaning {
	v := map[string]Meaning{}
	for _, t := range tables {
		for m, list := range t {
			for _, w := range strings.Split(list, ",") {
				v[w] = m
			}
		}
	}
	return v
}

// mappable lists what --map may name for a kind.
func mappable(kind Kind) []string {
	set := map[Meaning]bool{Ignore: true}
	for _, m := range vocabulary[kind] {
		set[m] = true
	}
	for _, more := range map[Kind][]Meaning{Soundings: {DepthUp}, Holes: {DateDMY, DateMDY, DepthUp}, Weather: {DateDMY, DateMDY}}[kind] {
		set[more] = true
	}
	for _, ask := range []Meaning{askX, askY, askZ} {
		delete(set, ask)
	}
	var list []string
	for m := range set {
		list = append(list, string(m))
	}
	sort.Strings(list)
	return list
}

// fillers say nothing about a column's meaning.
var fillers = map[string]bool{"gps": true, "wgs84": true, "wgs": true, "84": true, "dd": true, "deg": true, "degrees": true,
	"decimal": true, "approx": true, "about": true, "measured": true, "mean": true, "avg": true, "the": true, "of": true, "in": true}

// resolve reads a header: its meaning for the kind, and the unit that it states. The user's map goes first.
func resolve(kind Kind, header string, mapped map[string]string) ColumnMeaning {
	c := ColumnMeaning{Header: header}
	if to, ok := lookup(mapped, header); ok {
		m, unit, _ := strings.Cut(to, ":")
		c.Meaning, c.Unit, c.Why = strings.TrimSpace(m), strings.TrimSpace(unit), "as mapped"
		if _, u := headerUnit(header, Meaning(c.Meaning)); c.Unit == "" {
			c.Unit = u
		}
		return c
	}
	m, unit, ok := guessMeaning(kind, header)
	if !ok {
		c.Why = "header not known; ignored"
		return c
	}
	c.Meaning, c.Unit, c.Why = string(m), unit, "by its header"
	return c
}

func lookup(mapped map[string]string, header string) (string, bool) {
	if to, ok := mapped[header]; ok {
		return to, true
	}
	for from, to := range mapped {
		if strings.EqualFold(strings.TrimSpace(from), strings.TrimSpace(header)) {
			return to, true
		}
	}
	return "", false
}

// guessMeaning finds the longest run of words at the header's start that the vocabulary knows and that is followed by
// nothing but a unit.
func guessMeaning(kind Kind, header string) (m Meaning, unit string, ok bool) {
	plain, brackets := splitHeader(header)
	for cut := 0; cut <= 4 && cut < len(plain); cut++ {
		head, tail := plain[:len(plain)-cut], strings.Join(plain[len(plain)-cut:], " ")
		m, ok := vocabulary[kind][dropFillers(head)]
		if !ok {
			continue
		}
		if cut > 0 {
			if unit, ok = unitFor(m, tail); !ok {
				continue
			}
		}
		for _, b := range brackets {
			if u, ok := unitFor(m, b); ok {
				unit = u
			}
			if (m == Lat || m == Lon) && strings.Contains(strings.ReplaceAll(b, " ", ""), "dmm") {
				m = map[Meaning]Meaning{Lat: LatDMM, Lon: LonDMM}[m]
			}
		}
		if strings.Join(plain, " ") == "utc" {
			unit = "utc"
		}
		return m, unit, true
	}
	return "", "", false
}

// headerUnit gives the unit that a header states for a meaning the user has mapped.
func headerUnit(header string, m Meaning) (Meaning, string) {
	plain, brackets := splitHeader(header)
	for _, b := range brackets {
		if u, ok := unitFor(m, b); ok {
			return m, u
		}
	}
	for n := min(3, len(plain)-1); n > 0; n-- {
		if u, ok := unitFor(m, strings.Join(plain[len(plain)-n:], " ")); ok {
			return m, u
		}
	}
	return m, ""
}

func dropFillers(ws []string) string {
	kept := make([]string, 0, len(ws))
	for _, w := range ws {
		if !fillers[w] {
			kept = append(kept, w)
		}
	}
	return strings.Join(kept, " ")
}

var bracket = regexp.MustCompile(`[(\[{]([^)\]}]*)[)\]}]`)

// splitHeader parts a header into plain words and the texts in brackets; a trailing inch or foot mark counts as one.
func splitHeader(header string) (plain, brackets []string) {
	if len(header) > 200 { // no header of ours; keeps hostile files cheap
		return nil, nil
	}
	for _, m := range bracket.FindAllStringSubmatch(header, -1) {
		brackets = append(brackets, strings.ToLower(strings.TrimSpace(m[1])))
	}
	rest := strings.TrimSpace(bracket.ReplaceAllString(header, " "))
	for _, mark := range []string{"''", "\"", "”", "″", "'", "’", "′", "%"} {
		if strings.HasSuffix(rest, mark) && rest != mark {
			brackets = append(brackets, mark)
			rest = strings.TrimSuffix(rest, mark)
			break
		}
	}
	rest = strings.ReplaceAll(rest, "#", " no ")
	var b strings.Builder
	var before rune
	for _, r := range rest {
		switch {
		case unicode.IsUpper(r) && unicode.IsLower(before): // depthFt
			b.WriteByte(' ')
			b.WriteRune(unicode.ToLower(r))
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(unicode.ToLower(r))
		case r != '\'': // put'n'back stays whole
			b.WriteByte(' ')
		}
		before = r
	}
	return strings.Fields(b.String()), brackets
}

// otherHemisphere tells whether a header says that its plain numbers count west or south.
func otherHemisphere(header string) bool {
	plain, brackets := splitHeader(header)
	for _, w := range append(plain, brackets...) {
		switch strings.Trim(w, " °") {
		case "w", "west", "s", "south":
			return true
		}
	}
	return false
}

// unitFor checks that a text is a unit of the meaning's dimension and gives it in the form that the parsers take.
func unitFor(m Meaning, text string) (string, bool) {
	u := strings.TrimPrefix(strings.ToLower(strings.TrimSpace(text)), "in ")
	for _, s := range []string{" this hour", " per hour", " hourly"} {
		u = strings.TrimSuffix(u, s)
	}
	switch m {
	case Depth, DepthUp, Elevation, Ice, White, Lengths, Visibility, Easting, Northing, askX, askY, askZ, Snow, Precip:
		_, ok := quantity.LengthUnit(u)
		return u, ok
	case Wind, Gust:
		u = strings.NewReplacer(" ", "/", "_", "/").Replace(u)
		_, ok := quantity.SpeedUnit(u)
		return u, ok
	case Temperature:
		switch strings.Trim(u, "° ") {
		case "c", "degc", "deg c", "celsius", "º c":
			return "C", true
		case "f", "degf", "deg f", "fahrenheit":
			return "F", true
		}
	case Sky:
		switch u {
		case "%", "pct", "percent":
			return "%", true
		case "fraction", "0 1", "0-1", "0..1":
			return "fraction", true
		case "oktas", "okta", "eighths":
			return "oktas", true
		}
	case WindFrom:
		return "deg", u == "deg" || u == "degrees" || u == "°"
	case Time, Date:
		switch u {
		case "utc", "gmt", "z":
			return "utc", true
		case "local":
			return "", true
		}
	case Minutes:
		switch u {
		case "min", "mins", "minutes":
			return "min", true
		case "h", "hours", "hrs":
			return "h", true
		}
	}
	return "", false
}

// checkMap refuses a map that names a column the file has not, or a meaning its kind has not.
func checkMap(kind Kind, header []string, mapped map[string]string) error {
	allowed := mappable(kind)
	for from, to := range mapped {
		m, unit, hasUnit := strings.Cut(to, ":")
		m, unit = strings.TrimSpace(m), strings.TrimSpace(unit)
		if !contains(allowed, m) {
			return fault.New(fault.BadInput, "It may be: "+strings.Join(allowed, ", ")+".", "%q is not the meaning of a column of %s", Short(m), kind)
		}
		if _, ok := unitFor(Meaning(m), unit); hasUnit && !ok && !(unit == DashUnknown && countable[Meaning(m)]) {
			return fault.New(fault.BadInput, "", "%q is not a unit of %s", Short(unit), m)
		}
		found := false
		for _, h := range header {
			found = found || strings.EqualFold(strings.TrimSpace(h), strings.TrimSpace(from))
		}
		if !found {
			return fault.New(fault.BadInput, "The columns are: "+Short(strings.Join(header, ", "))+".", "the file has no column %q", Short(from))
		}
	}
	return nil
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

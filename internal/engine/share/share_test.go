package share

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

func name(t testing.TB, s string) Name {
	t.Helper()
	n, err := NewName(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func words(t testing.TB, s string) Words {
	t.Helper()
	w, err := NewWords(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func dots(t testing.TB) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range 64 * 48 {
		img.Set(i%64, i/64, color.RGBA{uint8(3 * i), uint8(i / 7), uint8(5 * i), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sample is the invented day of 15 January on Lake Tamaringen.
func sample(t testing.TB) Report {
	perch := name(t, "perch")
	return Report{Outfit: name(t, "Long Flat Guiding"), Lake: name(t, "Lake Tamaringen"), Day: Date{2026, 1, 15}, Best: Morning, Next: Date{2027, 1, 14},
		Weather: Weather{Sky: Clear, Chill: -24, Chilled: true, Wind: 4, Blew: true, Air: -17, Cold: true},
		Catch:   []Catch{{Species: perch, Kept: 58, PutBack: 31, Biggest: 33 * quantity.Centimetre, Sizes: Sizes{31, 49, 9}}},
		Party: []Person{{Name: name(t, "Ingrid Vossler"), Guide: true}, {Name: name(t, "Jonas Albrecht"), Kept: 20, PutBack: 9}, {Name: name(t, "Petra Albrecht"), Kept: 11}, {Name: name(t, "Lena Albrecht"), Kept: 9},
			{Name: name(t, "Tim Albrecht"), Kept: 8}, {Name: name(t, "Mr Okafor"), Kept: 10, Biggest: 33 * quantity.Centimetre, Of: perch}},
		Firsts: []First{{Name: name(t, "Lena Albrecht"), Species: perch, Length: 19 * quantity.Centimetre, Kept: true}},
		Again:  []Returning{{Name: name(t, "Mr Okafor"), Days: 9, Winter: 7, Fish: 312}},
		Words:  words(t, "Lena kept the hole open for everybody, and the soup was hot."), Photos: []Photo{{Data: dots(t), Width: 64, Height: 48}}}
}

func page(t testing.TB, r Report) string {
	t.Helper()
	r, err := Build(r)
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Page(Font{})
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The report says what a guest wants to know [trade: what guests want afterwards; common practice, no source].
func TestPageSaysTheDay(t *testing.T) {
	p := page(t, sample(t))
	for _, want := range []string{"Lake Tamaringen", "15 January 2026", "Long Flat Guiding", "89 fish came up, 58 were kept and 31 went back. They came best in the morning.", "Hard cold, clear, a light wind. Wind chill down to -24 C.",
		"Jonas Albrecht", "perch 33 cm", "First fish", "caught a first fish: perch, 19 cm", "winter 7 with us, 9 days, 312 fish", "We keep 14 January 2027 for you.", "the soup was hot", "data:image/jpeg;base64,"} {
		if !strings.Contains(p, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, never := range []string{"<script", "http://", "https://", "<link", "url(http", "@import", "<iframe", "<form"} {
		if strings.Contains(p, never) {
			t.Errorf("the page holds %q: it must load and send nothing", never)
		}
	}
}

// A day without a fish is told plainly.
func TestPageOfABlankDay(t *testing.T) {
	r := sample(t)
	r.Catch, r.Firsts, r.Again, r.Photos, r.Best = nil, nil, nil, nil, NoPart
	for i := range r.Party {
		r.Party[i].Kept, r.Party[i].PutBack = 0, 0
	}
	p := page(t, r)
	if !strings.Contains(p, "Not one fish came up.") || strings.Count(p, `class="sheet"`) != 1 {
		t.Errorf("a blank day reads: %s", p)
	}
}

// Allow-list: no type of the report is or holds a position, an instant or a place, however deep one looks.
func TestReportHasNoTypeForASpot(t *testing.T) {
	seen := 0
	allowed := map[reflect.Kind]bool{reflect.Int: true, reflect.String: true, reflect.Bool: true, reflect.Float64: true, reflect.Uint8: true}
	var walk func(path string, typ reflect.Type)
	walk = func(path string, typ reflect.Type) {
		seen++
		switch typ {
		case reflect.TypeFor[time.Time](), reflect.TypeFor[geo.Local](), reflect.TypeFor[geo.Position](), reflect.TypeFor[time.Duration]():
			t.Errorf("%s is a %s", path, typ)
			return
		}
		switch typ.Kind() {
		case reflect.Struct:
			for i := range typ.NumField() {
				f := typ.Field(i)
				if f.Type.Kind() == reflect.Float64 { // a physical quantity, and only of a fish or of the day's weather
					if ok := regexp.MustCompile(`^(Biggest|Length|Chill|Wind|Air)$`).MatchString(f.Name); !ok || !strings.Contains(f.Type.String(), "quantity.") {
						t.Errorf("%s.%s is a number that is not on the list: %s", path, f.Name, f.Type)
					}
				}
				if f.Type.Kind() == reflect.String {
					if typ != reflect.TypeFor[Name]() && typ != reflect.TypeFor[Words]() {
						t.Errorf("%s.%s is free text that nobody has looked through", path, f.Name)
					}
				}
				walk(path+"."+f.Name, f.Type)
			}
		case reflect.Slice:
			walk(path+"[]", typ.Elem())
		default:
			if !allowed[typ.Kind()] {
				t.Errorf("%s is a %s", path, typ)
			}
		}
	}
	walk("Report", reflect.TypeFor[Report]())
	if seen < 40 {
		t.Fatalf("only %d types were looked at", seen)
	}
}

// Words that give a place away are refused with what to write instead; friendly ones pass. Both lists are ours.
func TestWordsRefuse(t *testing.T) {
	for _, bad := range []string{"at 47.9012, -45.0134", "47,90 N", "47°54′", "N 47 54 076", "see https://example.org/x", "sent the GPS pin", "we sat at 10.8 m", "in 35 feet of water", "three of us, 900 m out",
		"bit at 9:12", "best at 0912", "at 9 am", "half an hour from the landing", "40 minutes on foot from shore", "43 cm of ice there", "the ice was 17 inches", "hole 17 was hot", "I43 again", "just north of the bar", "go NW", "the southwest side",
		"４７．９ again", "٤٧.٩", "depth 34ft", "grid ref known", "bearing known", "2 miles", "47 54 04 and 45 0 48", "47/54", "we paced it, 40 paces", "Cinder  bar was good", "the CINDER-BAR", "in 2026"} {
		if _, err := NewWords(bad, []string{"Cinder Bar", "", "x"}); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%q passes: %v", bad, err)
		} else if f := fault.Public(err); f.Hint == "" {
			t.Errorf("%q is refused without a way to mend it", bad)
		}
	}
	for _, good := range []string{"", "Lena, 9, and Tim, 7, beat us all.", "Petra's hands got cold; soup helped.", "A 33 cm perch to finish, well done Mr Okafor!", "They came for a while, went, and came again.", "Twenty fish for Jonas. See you next winter.", "Das Eis hat gesungen. Größter Fisch: Lena."} {
		if _, err := NewWords(good, []string{"Cinder Bar"}); err != nil {
			t.Errorf("%q is refused: %v", good, err)
		}
	}
	if _, err := NewWords(strings.Repeat("a", MostWords+1), nil); err == nil {
		t.Error("words that do not fit pass")
	}
	if _, err := NewWords("a\u202eb", nil); err == nil {
		t.Error("hidden characters pass")
	}
	for _, bad := range []string{"Hole 17", "47.9", strings.Repeat("a", 61), "a\x00b", "<b>", "\xff"} {
		if _, err := NewName(bad); err == nil {
			t.Errorf("the name %q passes", bad)
		}
	}
}

// Whatever passes as words holds nothing that the position reader takes for a position, nor a number of three figures.
func FuzzWords(f *testing.F) {
	for _, s := range []string{"", "soup", "47.9012, -45.0134", "N47 54.07 W45 00.80", "23U 500000 5305000", "a 33 cm perch", "４７．９", "1 2 3"} {
		f.Add(s)
	}
	long := regexp.MustCompile(`[0-9]{3}|[0-9][.,][0-9]`)
	f.Fuzz(func(t *testing.T, s string) {
		w, err := NewWords(s, nil)
		if err != nil {
			return
		}
		if p, err := geo.ParsePosition(w.String()); err == nil && strings.ContainsAny(w.String(), ".,0123456789") {
			t.Errorf("%q passes and reads as %v", s, p)
		}
		if long.MatchString(w.String()) {
			t.Errorf("%q passes with a long number", s)
		}
	})
}

// A picture that carries anything besides dots is refused: metadata, a comment, a second picture, bytes after the end
// [ITU-T T.81, table B.1, from memory; Go's own encoder writes the plain one].
func TestPicturesMustBeClean(t *testing.T) {
	plain := dots(t)
	part := func(code byte, body string) []byte {
		b := []byte{0xff, code}
		b = binary.BigEndian.AppendUint16(b, uint16(len(body)+2))
		return append(b, body...)
	}
	after := func(extra []byte) []byte {
		return append(append(append([]byte{}, plain[:2]...), extra...), plain[2:]...)
	}
	for what, data := range map[string][]byte{"EXIF": after(part(0xe1, "Exif\x00\x00II*\x00")), "XMP": after(part(0xe1, "http://ns.adobe.com/xap/1.0/\x00<x/>")), "comment": after(part(0xfe, "hole 17")), "colour profile": after(part(0xe2, "ICC_PROFILE")),
		"thumbnail": after(part(0xe0, "JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x02\x02............")), "bytes after the end": append(append([]byte{}, plain...), "47.9"...), "half": plain[:len(plain)/2], "nothing": nil, "text": []byte("47.9, -45")} {
		r := sample(t)
		r.Photos = []Photo{{Data: data, Width: 64, Height: 48}}
		if _, err := Build(r); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("a picture with %s passes: %v", what, err)
		}
	}
}

// Bad input is refused by name: a fish of 303 cm, counts below nothing, no lake, no day, too many of anything.
func TestBuildRefuses(t *testing.T) {
	for what, spoil := range map[string]func(*Report){
		"303 cm fish":    func(r *Report) { r.Party[1].Biggest = 303 * quantity.Centimetre },
		"negative count": func(r *Report) { r.Party[1].Kept = -1 },
		"no lake":        func(r *Report) { r.Lake = Name{} },
		"no day":         func(r *Report) { r.Day = Date{} },
		"no such day":    func(r *Report) { r.Next = Date{2027, 13, 1} },
		"crowd":          func(r *Report) { r.Party = make([]Person, MostPeople+1) },
		"album":          func(r *Report) { r.Photos = make([]Photo, MostPhotos+1) },
		"negative fish":  func(r *Report) { r.Firsts[0].Length = -1 },
	} {
		r := sample(t)
		spoil(&r)
		if _, err := Build(r); fault.CodeOf(err) != fault.BadInput || fault.Public(err).Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := sample(t).Page(Font{}); err == nil {
		t.Error("a report that was not checked is written")
	}
}

// Parts of the day on both sides of their lines.
func TestParts(t *testing.T) {
	for hour, want := range map[int]Part{0: Morning, 10: Morning, 11: Midday, 13: Midday, 14: Evening, 23: Evening} {
		if got := PartOf(hour); got != want {
			t.Errorf("%d is %v", hour, got)
		}
	}
}

// The preview goes through everything that the report says, and marks what only a person can judge.
func TestTellsAll(t *testing.T) {
	r := sample(t)
	r.Depth = Deep
	r, err := Build(r)
	if err != nil {
		t.Fatal(err)
	}
	said, looks := "", 0
	for _, x := range r.Tells() {
		said += x.What + " | " + x.Stranger + "\n"
		if x.Look {
			looks++
		}
	}
	for _, want := range []string{"Lake Tamaringen", "15 January 2026", "in the morning", "deep", "third of the lake", "89 fish", "weather", "Jonas Albrecht", "picture 1", "skyline", "the soup was hot", "returning guests", "14 January 2027"} {
		if !strings.Contains(said, want) {
			t.Errorf("the preview does not tell %q:\n%s", want, said)
		}
	}
	if looks != 6 { // the depth, many fish, a child's name, a picture, the words, the next day
		t.Errorf("%d things to look at", looks)
	}
}

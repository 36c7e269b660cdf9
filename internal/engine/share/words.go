package share

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"icehand/internal/base/fault"
)

// Name is a name of a person, a lake, an outfit or a fish: letters, and no figure. It is made by [NewName] alone.
type Name struct{ s string }

func (n Name) String() string { return n.s }

// Empty tells that nothing is named.
func (n Name) Empty() bool { return n.s == "" }

// mostName is the longest name, in characters.
const mostName = 60

// NewName takes a name. Figures have no place in one: a number is how places get into names.
func NewName(s string) (Name, error) {
	s = strings.Join(strings.Fields(s), " ")
	if !utf8.ValidString(s) || utf8.RuneCountInString(s) > mostName {
		return Name{}, fault.New(fault.BadInput, "Shorten it.", "a name on the report has more than %d characters, or ones that cannot be read", mostName)
	}
	for _, r := range s {
		if !unicode.IsLetter(r) && !unicode.IsMark(r) && !strings.ContainsRune(" .'’-&(),/", r) {
			return Name{}, fault.New(fault.BadInput, "Write names in letters.", "a name on the report holds %q", r)
		}
	}
	return Name{s}, nil
}

// Words are a guide's own words that passed [NewWords].
type Words struct{ s string }

func (w Words) String() string { return w.s }

// MostWords is the longest text of a guide's own, in characters: what fits on the page.
const MostWords = 600

// rule is one way in which words give a place away.
type rule struct {
	find      *regexp.Regexp
	why, hint string
}

// compass are the points, in full and with a second one.
const compass = `north|south|east|west|northeast|northwest|southeast|southwest`

// rules are tried in order. They look for the ways in which a spot slips into a friendly sentence, not for codes.
var rules = []rule{
	{regexp.MustCompile(`[°º′″]|[0-9]\s*['"’”]\s*[0-9]|(?i)\bdeg(rees?)?\s+(min|[NSEW]\b)|[0-9]\W*[NSEW]\b|\b[NSEW]\W*[0-9]`), "it reads like degrees and minutes", "Leave the place out."},
	{regexp.MustCompile(`(?i)https?:|www\.|\.(com|net|org)\b|geo:`), "it holds a link", "Leave the link out: a link can hold a place, and it tells who follows it."},
	{regexp.MustCompile(`(?i)\b(gps|waypoint|coordinates?|latitude|longitude|lat|lon|utm|mgrs|grid (square|ref\w*)|bearing|plus code|pin drop|what3\w*)\b`), "it speaks of a position", "Leave the place out."},
	{regexp.MustCompile(`(?i)\b[0-9]{1,2}\s*[:.h]\s*[0-9]{2}\b|\b[0-9]{1,2}\s*(am|pm|a\.m\.|p\.m\.|o.?clock)\b`), "it names an hour", "Say morning, midday or evening."},
	{regexp.MustCompile(`[0-9][.,][0-9]`), "it holds a number with decimals", "Write whole numbers; leave depths and places out."},
	{regexp.MustCompile(`(?i)[0-9]+\s*-?\s*(m|meters?|metres?|ft|foot|feet|fathoms?|km|kilometers?|kilometres?|miles?|mi|yards?|yd|paces?|steps?)\b`), "it gives a depth or a distance", "Leave it out, or say near, far, deep or shallow."},
	{regexp.MustCompile(`(?i)\b([0-9]+|an?|one|two|three|four|five|ten|twenty|thirty|forty|half an?)\s*-?\s*(min|mins|minutes?|hours?|hrs?)\b[^.!?]*\b(from|out|walk\w*|ride|rode|drive|drove|away|landing|shore|access)\b`), "it tells how far out you were", "Leave the travelling time out."},
	{regexp.MustCompile(`(?i)\b[0-9]+\s*(cm|centimet\w+|in|inch|inches)\b[^.!?]*\bice\b|\bice\b[^.!?]*\b[0-9]+\s*(cm|centimet\w+|in|inch|inches)\b`), "it gives an ice reading", "Leave it out: a reading belongs to a place, and another day's ice is another ice."},
	{regexp.MustCompile(`(?i)\bholes?\s*(no\.?|number|#)?\s*[0-9]+|#\s*[0-9]+|\b[A-Z][0-9]{1,3}\b`), "it names a hole", "Leave the number out."},
	{regexp.MustCompile(`(?i)\b(` + compass + `)(ern|-?east|-?west)?\b|\b(NE|NW|SE|SW|NNE|ENE|ESE|SSE|SSW|WSW|WNW|NNW)\b`), "it gives a direction", "Leave it out."},
	{regexp.MustCompile(`[0-9][^\pL\pN]+[0-9]`), "two numbers stand side by side, as in a position", "Put words between them."},
	{regexp.MustCompile(`[0-9]{3,}`), "it holds a long number", "Numbers of three figures and more are left out, years too."},
}

// NewWords takes words of a guide's own. Names of places that the outfit keeps to itself are handed in; they, hours, depths, distances, directions,
// ice readings, hole numbers and anything like a position are refused, with what to write instead.
func NewWords(s string, secret []string) (Words, error) {
	s = strings.Join(strings.Fields(s), " ")
	if !utf8.ValidString(s) || strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }) {
		return Words{}, fault.New(fault.BadInput, "Type it anew.", "the words hold characters that cannot be read")
	}
	if n := utf8.RuneCountInString(s); n > MostWords {
		return Words{}, fault.New(fault.BadInput, "Shorten them.", "the words are %d characters long, at most %d fit", n, MostWords)
	}
	plain := fold(s)
	for _, r := range rules {
		if at := r.find.FindString(plain); at != "" {
			return Words{}, fault.New(fault.BadInput, r.hint, "the words say %q: %s", strings.TrimSpace(at), r.why)
		}
	}
	low := " " + letters(plain) + " "
	for _, name := range secret {
		if n := letters(fold(name)); len(n) > 2 && strings.Contains(low, " "+n+" ") {
			return Words{}, fault.New(fault.BadInput, "Leave it out.", "the words name %q, a place of the outfit's own", strings.TrimSpace(name))
		}
	}
	return Words{s}, nil
}

// fold writes figures of every script, and full-width forms, as plain ones, so that none slips past the rules.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '！' && r <= '～': // full-width forms of ! to ~
			return r - '！' + '!'
		case unicode.Is(unicode.Nd, r):
			return '0' + digit(r)
		case unicode.Is(unicode.No, r):
			return '9' // superscript, circled and the like: a figure, whichever
		}
		return r
	}, s)
}

// digit gives the value of a decimal figure of any script: they stand in runs of ten that begin at a multiple reached by walking down.
func digit(r rune) rune {
	n := rune(0)
	for unicode.Is(unicode.Nd, r-1) && n < 9 {
		r--
		n++
	}
	return n
}

// letters keeps letters and figures in small, each run parted by one space.
func letters(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
}

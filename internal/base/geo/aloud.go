package geo

import (
	"fmt"
	"strings"
)

// Said is a part of a position as it is written and as it is read over a radio or telephone.
type Said struct {
	Text, Words string
}

// spelling is the international spelling alphabet for radiotelephony [ITURadio], appendix 14.
var spelling = [26]string{
	"Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett", "Kilo", "Lima", "Mike",
	"November", "Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango", "Uniform", "Victor", "Whiskey", "X-ray", "Yankee", "Zulu",
}

// Figures are read one by one, in plain English: the alphabet's own words for them are known to few.
var figureWords = [10]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// Spell gives letters in the spelling alphabet, figures one by one, a dot as "decimal"; other signs part the words.
func Spell(s string) string {
	var words []string
	for _, r := range strings.ToUpper(s) {
		switch {
		case r >= 'A' && r <= 'Z':
			words = append(words, spelling[r-'A'])
		case r >= '0' && r <= '9':
			words = append(words, figureWords[r-'0'])
		case r == '.':
			words = append(words, "decimal")
		}
	}
	return strings.Join(words, " ")
}

// Aloud gives the square part by part, figures in groups of two or three: easting first, then northing.
func (g GridSquare) Aloud() []Said {
	part := func(s string) Said { return Said{s, Spell(s)} }
	figures := func(v int) Said {
		s := fmt.Sprintf("%0*d", g.Figures/2, v)
		if len(s) < 4 {
			return part(s)
		}
		return Said{s, Spell(s[:2]) + ", " + Spell(s[2:])}
	}
	return []Said{part(fmt.Sprintf("%d%c", g.Zone, g.Band)), part(g.Square), figures(g.Easting), figures(g.Northing)}
}

// DMMAloud gives latitude and longitude in degrees and decimal minutes, as [Position.DMMText] writes them.
func (p Position) DMMAloud() []Said {
	hemisphere := map[byte]string{'N': "north", 'S': "south", 'E': "east", 'W': "west"}
	var out []Said
	for _, s := range strings.Fields(p.DMMText()) {
		degrees, minutes, _ := strings.Cut(s[:len(s)-1], "-")
		out = append(out, Said{s, Spell(degrees) + " degrees, " + Spell(minutes) + " minutes " + hemisphere[s[len(s)-1]]})
	}
	return out
}

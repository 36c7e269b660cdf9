package web

import (
	"fmt"
	"image/color"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func readStyle(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile("../../../web/style/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// luminance and contrast as the Web Content Accessibility Guidelines 2.2 define them [WCAG22, relative luminance, contrast ratio].
func luminance(c color.NRGBA) float64 {
	f := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*f(c.R) + 0.7152*f(c.G) + 0.0722*f(c.B)
}

func contrast(a, b color.NRGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func hexColour(t *testing.T, s string) color.NRGBA {
	t.Helper()
	v, err := strconv.ParseUint(strings.TrimPrefix(s, "#"), 16, 32)
	if err != nil || len(s) != 7 {
		t.Fatalf("%q is no colour", s)
	}
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// Black on white has a ratio of 21, and #777777 on white one of 4.48 [WCAG22].
func TestContrastFormula(t *testing.T) {
	white := color.NRGBA{255, 255, 255, 255}
	if got := contrast(color.NRGBA{0, 0, 0, 255}, white); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %v", got)
	}
	if got := contrast(color.NRGBA{0x77, 0x77, 0x77, 255}, white); math.Abs(got-4.48) > 0.005 {
		t.Errorf("#777 on white: %v", got)
	}
}

// themeColours reads the custom properties of every theme.
func themeColours(t *testing.T) map[string]map[string]color.NRGBA {
	t.Helper()
	screen, _, _ := strings.Cut(readStyle(t, "theme.css"), "@media print")
	block := regexp.MustCompile(`(?s)\[data-theme="(\w+)"\] \{(.*?)\}`)
	property := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)
	out := map[string]map[string]color.NRGBA{}
	for _, m := range block.FindAllStringSubmatch(screen, -1) {
		out[m[1]] = map[string]color.NRGBA{}
		for _, p := range property.FindAllStringSubmatch(m[2], -1) {
			out[m[1]][p[1]] = hexColour(t, p[2])
		}
	}
	return out
}

// Text has 7:1 or more on its paper in every theme, symbols and lines 4.5:1.
func TestContrast(t *testing.T) {
	all := themeColours(t)
	if len(all) != len(themes) {
		t.Fatalf("%d themes in the style, want %d", len(all), len(themes))
	}
	for theme, c := range all {
		for _, p := range []struct {
			ink, paper string
			least      float64
		}{
			{"ink", "paper", 7}, {"soft", "paper", 7}, {"ink", "raised", 7}, {"soft", "raised", 7}, {"paper", "ink", 7}, {"loud", "loud-paper", 7},
			{"line", "paper", 4.5}, {"line", "raised", 4.5},
		} {
			ink, ok1 := c[p.ink]
			paper, ok2 := c[p.paper]
			if !ok1 || !ok2 {
				t.Errorf("%s lacks --%s or --%s", theme, p.ink, p.paper)
				continue
			}
			if got := contrast(ink, paper); got < p.least {
				t.Errorf("%s: --%s on --%s has %.2f, want %.1f", theme, p.ink, p.paper, got, p.least)
			}
		}
	}
}

// Night is one dim red on black: no colour in it has green or blue to speak of beside its red, and nothing is white.
func TestNightIsRed(t *testing.T) {
	for name, c := range themeColours(t)["night"] {
		if c.G > c.R/2 || c.B > c.R/2 {
			t.Errorf("--%s is not red: %v", name, c)
		}
	}
	for i := range 100 {
		if c := shade(rampFor("night"), float64(i)/99); c.G > c.R/2 || c.B > c.R/2 {
			t.Errorf("the night's field is not red at %d: %v", i, c)
		}
	}
}

// What the browser paints before any style has come is the theme's own paper.
func TestFirstPaint(t *testing.T) {
	for theme, c := range themeColours(t) {
		paper, _ := settings{Theme: theme}.paper()
		if hexColour(t, paper) != c["paper"] {
			t.Errorf("%s: the body is painted %s, the theme's paper is %v", theme, paper, c["paper"])
		}
	}
}

// The legend's swatches have the colours and opacity of the picture.
func TestLegendMatchesPicture(t *testing.T) {
	css := readStyle(t, "pages.css")
	for _, x := range []struct{ theme, before string }{{"sun", ""}, {"night", `[data-theme="night"] `}} {
		for i, p := range oddsLevels {
			c := shade(rampFor(x.theme), p/fullShade)
			want := fmt.Sprintf("\n%s.shade-%d {\n\tborder-color: rgb(%d %d %d / %.2f);", x.before, i+1, c.R, c.G, c.B, float64(opacity(p))/255)
			if !strings.Contains(css, want) {
				t.Errorf("pages.css lacks %q", want)
			}
		}
	}
}

// Lightness rises all the way up the colour maps, so that they read the same in grey.
func TestRampsRiseInLightness(t *testing.T) {
	for _, theme := range []string{"sun", "night"} {
		last := -1.0
		for i := range 200 {
			l := luminance(shade(rampFor(theme), float64(i)/199))
			if l < last-1e-6 {
				t.Errorf("%s: lightness falls at %d", theme, i)
			}
			last = l
		}
	}
}

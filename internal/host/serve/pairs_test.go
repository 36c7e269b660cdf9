package serve

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// pair is one picture of the set in which every two values of screen, theme, hand, units and size stand together at least once.
type pair struct {
	screen, theme, hand, units string
	w, h                       int64
}

var pairs = []pair{
	{"now", "sun", "right", "si", 390, 844},
	{"now", "dusk", "left", "us", 360, 640},
	{"now", "night", "left", "us", 390, 844},
	{"map", "sun", "left", "us", 360, 640},
	{"map", "dusk", "right", "us", 390, 844},
	{"map", "night", "right", "si", 360, 640},
	{"people", "sun", "left", "us", 360, 640},
	{"people", "dusk", "right", "us", 390, 844},
	{"people", "night", "right", "si", 390, 844},
	{"ice", "sun", "right", "si", 360, 640},
	{"ice", "dusk", "left", "us", 390, 844},
	{"ice", "night", "right", "si", 390, 844},
	{"day", "sun", "left", "si", 360, 640},
	{"day", "dusk", "left", "si", 390, 844},
	{"day", "night", "right", "us", 360, 640},
	{"help", "sun", "right", "si", 390, 844},
	{"help", "dusk", "left", "us", 360, 640},
	{"help", "night", "right", "us", 360, 640},
}

func (p pair) values() []string {
	return []string{p.screen, p.theme, p.hand, p.units, fmt.Sprintf("%dx%d", p.w, p.h)}
}

// TestPairs: the six screens in all pairs of theme, hand, units and size of the phone.
func TestPairs(t *testing.T) {
	met := map[string]bool{}
	levels := make([]map[string]bool, 5)
	for _, p := range pairs {
		v := p.values()
		for i := range v {
			if levels[i] == nil {
				levels[i] = map[string]bool{}
			}
			levels[i][v[i]] = true
			for k := i + 1; k < len(v); k++ {
				met[v[i]+" "+v[k]] = true
			}
		}
	}
	for i := range levels {
		for a := range levels[i] {
			for k := i + 1; k < len(levels); k++ {
				for b := range levels[k] {
					if !met[a+" "+b] {
						t.Errorf("%s and %s never stand together", a, b)
					}
				}
			}
		}
	}
	path := browser(t)
	_, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	for _, p := range pairs {
		do(t, ctx, chromedp.EmulateViewport(p.w, p.h))
		where := map[string]string{"now": "/"}[p.screen]
		if where == "" {
			where = "/" + p.screen
		}
		open(t, ctx, base, screen{path: where, theme: p.theme, units: p.units, hand: p.hand})
		compare(t, strings.Join(p.values(), "-")+".png", shoot(t, ctx))
		overflow(t, ctx, strings.Join(p.values(), " "))
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

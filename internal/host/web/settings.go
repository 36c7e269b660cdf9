package web

import (
	"net/http"
	"slices"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// settings are how one phone shows things. They are kept on the phone and change no advice.
type settings struct {
	Theme string // sun, dusk, night
	Units quantity.System
	Low   bool // the battery is low: what is costly is off
	Left  bool // mirrored for the left hand
}

// The three themes, with the paper that the browser paints before any style has come in.
var themes = []struct{ Name, Paper, Scheme string }{{"sun", "#ffffff", "light"}, {"dusk", "#0b0d0f", "dark"}, {"night", "#000000", "dark"}}

const yearOfSeconds = 365 * 24 * 3600

// readSettings reads the cookies; what is missing or odd takes the default: sun, SI, right hand.
func readSettings(r *http.Request, units quantity.System) settings {
	s := settings{Theme: "sun", Units: units}
	if c, err := r.Cookie("theme"); err == nil && knownTheme(c.Value) {
		s.Theme = c.Value
	}
	if c, err := r.Cookie("units"); err == nil {
		if u, known := quantity.ParseSystem(c.Value); known {
			s.Units = u
		}
	}
	if c, err := r.Cookie("hand"); err == nil {
		s.Left = c.Value == "left"
	}
	if c, err := r.Cookie(powerSetting); err == nil {
		s.Low = c.Value == "low" || c.Value == "auto"
	}
	return s
}

func knownTheme(name string) bool {
	for _, t := range themes {
		if t.Name == name {
			return true
		}
	}
	return false
}

func (s settings) paper() (paper, scheme string) {
	for _, t := range themes {
		if t.Name == s.Theme {
			return t.Paper, t.Scheme
		}
	}
	return themes[0].Paper, themes[0].Scheme
}

// choices lists what each setting may be.
var choices = map[string][]string{"theme": {"sun", "dusk", "night"}, "units": {"si", "us"}, "hand": {"right", "left"}, powerSetting: {"low", "full"}}

// postSettings keeps settings on the phone.
func (h *handler) postSettings(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := ParseForm(r); err != nil {
		return err
	}
	for key, may := range choices {
		v := r.PostForm.Get(key)
		if v == "" {
			continue
		}
		if !slices.Contains(may, v) {
			return fault.New(fault.BadInput, "Choose one of "+strings.Join(may, ", ")+".", "%q is no %s", v, key)
		}
		http.SetCookie(w, &http.Cookie{Name: key, Value: v, Path: "/", MaxAge: yearOfSeconds, SameSite: http.SameSiteLaxMode, HttpOnly: true})
	}
	return back(w, r, localPath(r.PostForm.Get("back")))
}

// localPath keeps a way back on these pages.
func localPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.ContainsAny(p, "\\\r\n") {
		return "/"
	}
	return p
}

package web

import (
	"encoding/json"
	"net/http"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// helpView is the page Help: the rescue card as far as this program knows it.
type helpView struct {
	Words     string
	Number    string
	People    string
	Positions []positionView
	Fix       string
	Stale     bool
	Home      string
	Say       []string
	Settings  settingsView
}

type positionView struct{ Format, Text string }

// settingsView shows how this phone shows things.
type settingsView struct {
	Back    string
	Choices []choiceView
}

type choiceView struct {
	Key, Word string
	Options   []optionView
}

type optionView struct {
	Value, Word string
	Chosen      bool
}

// settingsForms lists the settings for a page's foot.
func (v *visit) settingsForms() settingsView {
	hand := "right"
	if v.settings.Left {
		hand = "left"
	}
	s := settingsView{Back: v.path}
	add := func(key, word, now string, options ...[2]string) {
		c := choiceView{Key: key, Word: word}
		for _, o := range options {
			c.Options = append(c.Options, optionView{o[0], o[1], o[0] == now})
		}
		s.Choices = append(s.Choices, c)
	}
	add("theme", "Theme", v.settings.Theme, [2]string{"sun", "sun"}, [2]string{"dusk", "dusk"}, [2]string{"night", "night"})
	add("units", "Units", v.settings.Units.String(), [2]string{"si", "metres, C"}, [2]string{"us", "feet, F"})
	add("hand", "Hand", hand, [2]string{"right", "right"}, [2]string{"left", "left"})
	return s
}

func (h *handler) help(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := helpView{Words: say.AdviceOnly, Number: "No emergency number is entered for this lake.", Home: v.home.Way, Settings: v.settingsForms()}
	here := h.Desk.Here()
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		var number string
		if raw := d.Lake.Setting("emergency_number", d.Now); raw != nil && json.Unmarshal(raw, &number) == nil && number != "" {
			view.Number = "Emergency number: " + number
		}
		on := 0
		for _, x := range d.Party.OnIce(d.Now) {
			if x.OnIce {
				on++
			}
		}
		view.People = peopleWord(on)
		if !d.Lake.Known {
			return nil
		}
		place, fix := here.At, "Fix "+v.voice.Ago(here.Fixed)+", within "+v.voice.Units.DistanceText(here.Accuracy)
		if !here.Known {
			view.Stale = true
			fix = "No fix now, and no hole of today to stand in for it."
			newest := d.Lake.HolesOn(d.Today)
			for i := len(newest) - 1; i >= 0; i-- {
				if o := newest[i]; o.Placed {
					place, fix = o.At, "No fix now. The place of hole "+say.HoleName(o, d.Today)+", drilled "+v.voice.Ago(o.Drilled)+"."
					break
				}
				if i == 0 {
					newest = nil
				}
			}
			if len(newest) == 0 {
				view.Fix = fix
				return nil
			}
		}
		p := d.Lake.Frame.Position(place)
		view.Fix = fix
		view.Positions = []positionView{{"degrees, minutes", p.DMMText()}, {"decimal degrees", p.DecimalText()}, {"UTM", p.ToUTM().String()}}
		return nil
	})
	if err != nil {
		return err
	}
	view.Say = []string{"Who you are and the number to call back.", view.People + ": ages, in water, hurt, cold or stranded.",
		"The position, in the form they ask for. Datum WGS 84.", "How you came: the way home below, backwards.", "What has been done, and when you call next."}
	return h.show(w, r, v, http.StatusOK, "Help", helpPage(view))
}

func peopleWord(n int) string {
	switch n {
	case 0:
		return "Nobody reported on the ice"
	case 1:
		return "1 person on the ice"
	}
	return countText(map[string]int{"": n}) + " people on the ice"
}

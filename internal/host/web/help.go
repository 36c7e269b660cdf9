package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// helpView is the page Help: the rescue card as far as this program knows it.
type helpView struct {
	Words     string
	Number    string
	People    string
	Positions []positionView
	Aloud     []geo.Said
	MinAloud  []geo.Said
	Fix       string
	Stale     bool
	Lines     []string // from the landing, home, approach
	Card      []string // what goes into the picture for the lock screen: nothing that is of today, and not where the party is
	Home      string
	Say       []string
	Again     []field
	Incident  string // how long its clock runs; "" while none runs
	Settings  settingsView
	Phone     bool
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
	view := helpView{Words: say.AdviceOnly, Home: v.home.Way, Settings: v.settingsForms(), Phone: h.Phone, Again: []field{{"back", "/help"}}, Incident: h.incident(r, v)}
	if h.Phone || v.settings.Low {
		view.Settings.Choices = append(view.Settings.Choices, v.powerChoice())
	}
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		view.Number = emergencyNumber(d)
		on := 0
		for _, x := range d.Party.OnIce(d.Now) {
			if x.OnIce {
				on++
			}
		}
		view.People = peopleWord(on)
		return nil
	})
	if err != nil {
		return err
	}
	view.Card = []string{view.Number}
	card, err := h.Desk.Rescue(r.Context())
	switch {
	case err == nil:
		view.card(v, card)
	case fault.CodeOf(err) == fault.Missing: // the words and the number stand all the same
		view.Fix, view.Stale = Sentence(fault.Public(err).Message)+" "+fault.Public(err).Hint, true
	default:
		return err
	}
	view.Say = toSay(view.People)
	view.Card = append(view.Card, toSay("How many people")...)
	return h.show(w, r, v, http.StatusOK, "Help", helpPage(view))
}

// toSay lists what rescuers need to hear.
func toSay(people string) []string {
	return []string{"Who you are and the number to call back.", people + ": ages, in water, hurt, cold or stranded; on ice, in a shelter, in a vehicle.",
		"The position, in the form they ask for. Datum WGS 84.", "How you came: the way home backwards; ice read on it, crossings, open water.",
		"What has been done, colour of clothes and shelter, battery left, when you call next.", "Whether you stay or move, and by which line."}
}

// card puts the position in every format onto the page.
func (view *helpView) card(v *visit, card desk.Rescue) {
	t := v.voice.Rescue(card)
	view.Positions = []positionView{{"grid, USNG and MGRS", t.Grid}, {"degrees, minutes", t.Minutes}, {"decimal degrees", t.Decimal}, {"UTM", t.UTM}}
	view.Aloud, view.MinAloud = t.GridAloud, t.MinutesAloud
	view.Fix, view.Stale = t.Sure, !card.Known
	view.Lines = []string{Sentence(t.Landing), t.Home, t.Approach}
	view.Card = append(view.Card, t.LandingAt)
}

// emergencyNumber says the number that the outfit entered for this lake.
func emergencyNumber(d desk.View) string {
	var number string
	if raw := d.Lake.Setting(emergencySetting, d.Now); raw != nil && json.Unmarshal(raw, &number) == nil && number != "" {
		return "Emergency number: " + number
	}
	return "No emergency number is entered for this lake."
}

// emergencySetting is the key of the number to call, as the outfit entered it.
const emergencySetting = "emergency_number"

// dialled is what a number may be made of.
var dialled = regexp.MustCompile(`^[+0-9][0-9 ()/-]{1,23}$`)

// postEmergency enters the number to call.
func (h *handler) postEmergency(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	number := strings.TrimSpace(r.PostForm.Get("number"))
	if !dialled.MatchString(number) {
		return fault.New(fault.BadInput, "Write it as it is dialled here, such as 112.", "%q is no number to call", number)
	}
	raw, err := json.Marshal(number)
	if err != nil {
		return fmt.Errorf("web: keeping the emergency number: %w", err)
	}
	if err := h.Desk.Record(r.Context(), a, &journal.Setting{Key: emergencySetting, Value: raw}); err != nil {
		return err
	}
	return back(w, r, "/help")
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

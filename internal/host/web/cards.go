package web

import (
	"fmt"
	"net/http"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// coachCard is one card: a picture of our own and a few plain lines.
type coachCard struct {
	Picture, Title string
	Lines          []string
}

// cardsView is the coaching cards for one kind of reader.
type cardsView struct {
	For   string
	Kinds []optionLink
	Cards []coachCard
	Note  string
}

// coachCards are the trade's common practice in plain words; nothing in them has a source.
var coachCards = map[string][]coachCard{
	"beginners": {
		{"drop", "Down", []string{"Open the reel, let it run.", "Line slack? It lies on the bottom."}},
		{"turns", "Two turns up", []string{"Close the reel.", "Two turns: just over their heads."}},
		{"tip", "Watch the tip", []string{"Down, or UP: both are bites.", "Look at the tip, not at the hole."}},
		{"lift", "Lift and reel", []string{"Lift the rod a hand's width.", "Then reel. Do not stop."}},
		{"still", "They look, no bite", []string{"Hold still. Count to thirty.", "Then lift as slowly as you can."}},
		{"hands", "Wet bare hand", []string{"Wet hand, in the water if you can.", "Never lay it on the ice."}},
		{"back", "Putting it back", []string{"Head first, straight down.", "It floats? Tell the guide."}},
		{"hook", "The hook", []string{"Deep in? Cut the line, tell the guide.", "Hook in a person: do not pull. Guide."}},
	},
	"children": {
		{"drop", "Down it goes", []string{"Let the line run.", "When it stops, it is there."}},
		{"turns", "Two turns up", []string{"Turn, turn. Stop.", "Now the fish can see it."}},
		{"tip", "Look at the tip!", []string{"Does it nod?", "Does it jump up? Lift!"}},
		{"hands", "Wet hand", []string{"Wet your hand first.", "A fish does not like dry gloves."}},
		{"holes", "Holes", []string{"Walk where the guide walks.", "Step round every ring and flag."}},
		{"whistle", "Whistle", []string{"Three times means: help!", "Cannot see the tent? Stop and whistle."}},
		{"jobs", "Your job today", []string{"Bait keeper, counter, hole cleaner,", "or screen watcher: you choose."}},
		{"warm", "Cold? Say so", []string{"Cold toes, cold nose: tell us.", "Wet glove: tell us at once."}},
	},
}

// cards shows the coaching cards.
func (h *handler) cards(w http.ResponseWriter, r *http.Request, v *visit) error {
	kind := r.URL.Query().Get("for")
	if coachCards[kind] == nil {
		kind = "beginners"
	}
	view := cardsView{For: sentenceCase(kind), Cards: coachCards[kind], Note: say.CommonPractice + " Local rules and the guide come first.",
		Kinds: []optionLink{{"Beginners", "/cards?for=beginners", kind == "beginners"}, {"Children", "/cards?for=children", kind == "children"}}}
	return h.show(w, r, v, http.StatusOK, "Cards", cardsPage(view))
}

// talkView is the safety talk.
type talkView struct {
	Points []talkRow
	Said   string
}

type talkRow struct {
	desk.TalkPoint
	Told bool
}

// talk shows the safety talk as a list to tick.
func (h *handler) talk(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view talkView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		today, told := d.TalkToday(), 0
		for _, p := range desk.TalkPoints() {
			view.Points = append(view.Points, talkRow{p, today.Told[p.Key]})
			if today.Told[p.Key] {
				told++
			}
		}
		view.Said = fmt.Sprintf("%d of %d told today.", told, len(view.Points))
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Safety talk", talkPage(view))
}

// postTalk records what was told.
func (h *handler) postTalk(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	if err := h.Desk.TellTalk(r.Context(), a, r.PostForm["told"]); err != nil {
		return err
	}
	return back(w, r, "/talk")
}

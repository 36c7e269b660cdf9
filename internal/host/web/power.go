package web

import (
	"net/http"
	"slices"
)

// While the battery is low a phone shows only what must go on: the keys, the turn-back time, the way home and the rescue
// card. The map, advice and fixes are off until they are asked for.

// powerSetting is the cookie: "auto" set by the app when the battery fell to 25 %, "low" by hand, "full" by hand over it.
const powerSetting = "power"

// costly are the pages that work out or draw much.
var costly = []string{"/map", "/why", "/evening", "/present"}

// once tells whether the guide asked for one costly answer all the same.
func once(r *http.Request) bool { return r.URL.Query().Get("power") == "once" }

// lowView is what a phone with a low battery shows in place of advice or of a costly page.
type lowView struct {
	Home string // the way home
	Once string // the address that shows it once all the same
	Word string // of that key
	Back string // where the guide goes on with all pages
}

// low gives what stands in place of something costly; nil when it is shown.
func (v *visit) low(r *http.Request, word string) *lowView {
	if !v.settings.Low || once(r) {
		return nil
	}
	q := r.URL.Query()
	q.Set("power", "once")
	q.Del("done")
	q.Del("undone")
	return &lowView{Home: v.home.Way, Word: word, Once: v.path + "?" + q.Encode(), Back: v.path}
}

// lowNow is Now without advice.
func (h *handler) lowNow(w http.ResponseWriter, r *http.Request, v *visit, view nowView, at spot, chosen bool) (err error) {
	if view.Spot, view.Keys, err = h.spotAndKeys(r, v, at, chosen, false); err != nil {
		return err
	}
	for i := range view.Keys {
		view.Keys[i].Locate = false
	}
	if err := h.afterAct(r, v, &view); err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Now", nowPage(view))
}

// spared shows in place of a costly page that it is off; false when the page is to be shown.
func (h *handler) spared(w http.ResponseWriter, r *http.Request, v *visit) (bool, error) {
	if r.Method != http.MethodGet || !slices.Contains(costly, r.URL.Path) {
		return false, nil
	}
	low := v.low(r, "Show it once")
	if low == nil {
		return false, nil
	}
	return true, h.show(w, r, v, http.StatusOK, "Battery low", lowPage(*low))
}

// powerChoice is the switch by hand, for browsers that tell no charge.
func (v *visit) powerChoice() choiceView {
	return choiceView{Key: powerSetting, Word: "Battery", Options: []optionView{{"full", "all pages", !v.settings.Low}, {"low", "low: save it", v.settings.Low}}}
}

// lowNavigation lists the pages of a phone with a low battery.
var lowNavigation = []navItem{{Word: "Now", Path: "/"}, {Word: "Home", Path: "/way"}, {Word: "People", Path: "/people"}, {Word: "Help", Path: "/help"}}

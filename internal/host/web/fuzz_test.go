package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"icehand/internal/host/desk"
	"icehand/internal/host/web"
)

// posted lists the addresses that take a form, each with one that is taken. A name after $ stands for an identity on
// record.
var posted = []struct{ path, form string }{
	{"/look", "marks=few"}, {"/look", "marks=few&small=yes&hole=$hole&sit=$sit"}, {"/look", "marks=none&lat=47.83&lon=-45.08&accuracy=5&age=2"},
	{"/fish", "kept=yes&size=big&count=5&hole=$hole&guest=$guest"}, {"/fish/name", "fish=$fish&guest=$guest&back=/people"},
	{"/sit", "rod=3&hole=$hole"}, {"/up", "sit=$sit"}, {"/ice", "total=41&white=4&snow=9&water=-2&solid=30&layered=yes&crack=dry"}, {"/undo", ""},
	{"/hole", "e=1200&n=-800"}, {"/place", "hole=$hole&from=$hole&paces=20&toward=NW"}, {"/place", "hole=$hole&sent=yes"}, {"/depth", "hole=$hole&depth=10.9 m"},
	{"/target", "target=walleye"}, {"/aim", "aim=first_fish&for=$guest"}, {"/people/reach", "person=$guest&reach=300000"}, {"/not-there", "e=-65140&n=-82390"}, {"/trip", "day=2026-01-16&rods=4&travel=foot&landing=47.8, -45.1&ashore=15:30&drill=30&aim=size"},
	{"/turn-back", "until=14:30&reason=party_faster"}, {"/turn-back", "clear=$fish"}, {"/clock-right", ""}, {"/parked", "what=sled&mass=180 kg"}, {"/parked", "of=$parked"},
	{"/report", "of=$hazard&by=$guest&report=gone"}, {"/hazard", "what=crack&e=100&n=100"}, {"/head-count", "all=yes&sweep=$guest&back=/"}, {"/head-count", "present=$guest"},
	{"/claim", "person=$guest&state=ashore"}, {"/settings", "theme=night&back=/help"}, {"/import", "token=x"},
	{"/stand", "lat=47.83&lon=-45.08&accuracy=5&age=2&back=/way"}, {"/pace", "from=$hole&to=$hole&paces=120"}, {"/pace", "from=$hole&to=$hole&paces=120&person=$guest"}, {"/line", "purpose=out&people=$guest&fixes=5000 47.83 -45.08 5;0 47.8301 -45.08 5"}, {"/line/back", "line=$fish"}, {"/watch", "what=warm&person=$guest"}, {"/watch", "what=heater_on"}, {"/emergency", "number=112"},
	{"/weather", "air=-16 C&wind=12 km/h&height=face&from=NW&cloud=100&snowing=light&sight=800 m"}, {"/hours", "which=legal_close&clock=17:30"}, {"/hours", "which=fuel_until&clock="},
	{"/ice-table", "agency=Water Security Agency&by=Ada"}, {"/freeze-up", "day=2025-11-24"}, {"/depths", "low=9&high=12&stage=mid"}, {"/ice-ended", "cause=broken_up"},
	{"/tackle", "lure=red spoon&mass=2 g&of=lead&depth=11 m&took=22"}, {"/tackle", "line=nylon&thick=0.15 mm&tip=soft&hung=20 g&out=10 m&droop=14"}, {"/present", "sit=$sit&screen=lookers&manner=still&lure=red spoon"},
	{"/practice", "screen=lookers&words=Wait."}, {"/talk", "told=picks&told=holes"},
	{"/rules", "by=Ada&text=book: b"}, {"/rules/sign", "by=Ada"}, {"/rules/withdraw", "book=$fish&why=wrong"}, {"/hold", "person=$guest&what=carried&count=3&species=perch"},
	{"/hold", "person=$guest&what=gift_out&count=1&species=perch&note=signed"}, {"/fish/correct", "fish=$fish&to=slip&why=a slip"}, {"/fish/correct", "fish=$fish&to=$guest&why=mixed up"}, {"/tally/share", ""},
	{"/plan", "day=2026-01-15&watcher=Ruth&calls=Dale, 555 0142&sealed=A: 47.91, -45.01&check_in=180&after-call_party=15&after-look_for=30&after-call_rescue=60&dark-call_rescue=30"}, {"/plan/tell", "what=check_in&note=by radio"}, {"/plan/tell", "what=incident&back=/help"}, {"/plan/open", "by=Ruth"},
	{"/roster", "person=$guest&notes=red coat&licence=TX 90&seen=yes&until=2026-12-31"}, {"/supply", "what=battery&left=50"}, {"/hole-state", "hole=$hole&state=marked"}, {"/hole-state", "all=yes&state=closed"}, {"/hole-state", "number=3&day=2026-01-14&state=reopened"},
	{"/close", "day=2026-01-15&best=1&moved=wind&ice=none&guests=cold hands&tomorrow=best&bag $guest perch=3"}, {"/handed-in", "form=lake-log&of=2026-01-15"}, {"/rules/ticks", "tick=litter"},
	{"/join", "name=Jonas&age=adult&role=guest&rod=2&licence=TB 1&seen=yes&until=2026-12-31&on_ice=yes"}, {"/double", "person=$guest&why=entered twice"}, {"/claim", "all=yes&state=ashore&back=/close"},
	{"/clarity", "clarity=4 m"},
	{"/sounder", "hole=$hole&assumed=1500&water=2&hang=0.3&cone=20"}, {"/credits", "layer=$layer&owner=Ada&licence=ODbL 1.0&dated=2025-11"},
}

// onRecord gives identities that forms may name, by the word after $.
func onRecord(v desk.View) *strings.Replacer {
	var guest string
	for _, g := range v.Party.Guests {
		if g.Day == v.Today {
			guest = g.ID.String()
		}
	}
	holes := v.Lake.HolesOn(v.Today)
	sits := v.Party.RodsAt(v.Now)
	pairs := []string{"$guest", guest, "$hole", holes[len(holes)-1].ID.String(), "$fish", v.Party.Fish[len(v.Party.Fish)-1].ID.String(),
		"$hazard", v.Lake.Hazards[0].ID.String(), "$parked", v.Lake.Parked[0].ID.String(), "$layer", v.Lake.Layers[0].ID.String()}
	if len(sits) > 0 {
		pairs = append(pairs, "$sit", sits[0].ID.String())
	}
	return strings.NewReplacer(pairs...)
}

// TestEveryPostIsFuzzed: each address that takes a form is among the seeds.
func TestEveryPostIsFuzzed(t *testing.T) {
	taken := map[string]bool{}
	for _, p := range posted {
		taken[p.path] = true
	}
	posts := web.Posts()
	if len(posts) == 0 {
		t.Fatal("no address takes a form")
	}
	for _, path := range posts {
		if !taken[path] {
			t.Errorf("%s is not fuzzed", path)
		}
	}
}

// FuzzForms: whatever is posted, the answer is no fault of the server's, and a form that is refused has written nothing.
func FuzzForms(f *testing.F) {
	for i, p := range posted {
		f.Add(uint8(i), p.form)
	}
	var d *desk.Desk
	var h http.Handler
	f.Fuzz(func(t *testing.T, which uint8, text string) {
		if d == nil {
			d, h, _ = demo(t, false)
		}
		before, ids := 0, (*strings.Replacer)(nil)
		read := func() (n int) {
			if err := d.Read(t.Context(), func(v desk.View) error { n, ids = len(v.Log.Facts()), onRecord(v); return nil }); err != nil {
				t.Fatal(err)
			}
			return n
		}
		before = read()
		path := posted[int(which)%len(posted)].path
		form, err := url.ParseQuery(ids.Replace(text))
		if err != nil {
			t.Skip("no form")
		}
		w := post(h, path, form)
		switch after := read(); {
		case w.Code >= http.StatusInternalServerError:
			t.Errorf("%s %q: status %d: %s", path, text, w.Code, w.Body)
		case w.Code >= http.StatusBadRequest && after != before:
			t.Errorf("%s %q: refused with %d, and %d entries were written", path, text, w.Code, after-before)
		case w.Code < http.StatusBadRequest && w.Code != http.StatusSeeOther && w.Code != http.StatusOK:
			t.Errorf("%s %q: status %d", path, text, w.Code)
		}
	})
}

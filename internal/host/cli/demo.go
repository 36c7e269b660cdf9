package cli

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/paper"
	"icehand/internal/host/phone"
	"icehand/internal/host/rehearsal"
	guestreport "icehand/internal/host/report"
	"icehand/internal/host/serve"
	"icehand/internal/host/web"
	phonebook "icehand/internal/keep/phones"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/syncing"
	"icehand/internal/sim"
)

type serveCmd struct {
	Addr string `help:"Address to listen on; loopback unless told otherwise." default:"127.0.0.1:8420" placeholder:"HOST:PORT"`
	Dev  string `help:"Serve styles and scripts from this folder instead of the built-in ones." placeholder:"DIR"`

	Domain      string `help:"Answer on the net too, under this name, over HTTPS, to whoever shows the key of a phone on file." placeholder:"NAME"`
	BehindProxy bool   `help:"Another program on this machine does the encryption for --domain and passes requests on to --addr."`
	Authority   string `help:"Directory of the authority that signs the certificate of --domain (ACME, RFC 8555), when not Let's Encrypt." placeholder:"URL"`
}

// domain puts the name on the net into the server's options.
func (c serveCmd) domain(o *serve.Options, data string) error {
	if c.Domain == "" {
		if c.Authority != "" {
			return fault.New(fault.BadInput, "Add --domain NAME.", "--authority goes with a domain")
		}
		if c.BehindProxy {
			return fault.New(fault.BadInput, "Add --domain NAME.", "--behind-proxy goes with a domain")
		}
		return nil
	}
	if net.ParseIP(c.Domain) != nil || strings.ContainsAny(c.Domain, ":/ ") || !strings.Contains(c.Domain, ".") {
		return fault.New(fault.BadInput, "Write the name alone, for example guide.example.org.", "%q is no name on the net", c.Domain)
	}
	if u, err := url.Parse(c.Authority); c.Authority != "" && (err != nil || u.Scheme != "https" || u.Host == "" || c.BehindProxy) {
		return fault.New(fault.BadInput, "Write the whole address, such as https://ca.example.org/directory, and leave --behind-proxy out.", "--authority %q names no authority to ask", c.Authority)
	}
	o.Domain, o.Authority = c.Domain, c.Authority
	if !c.BehindProxy {
		o.Certs = filepath.Join(data, "certificates")
	}
	return nil
}

func (c serveCmd) Run(ctx context.Context, g *Globals) error {
	if g.At != "" {
		return fault.New(fault.BadInput, "Leave --at out: a running server goes by the clock.", "serve cannot answer as of another time")
	}
	st, err := sqlite.Open(ctx, g.Data, sqlite.Options{Program: "icehand serve"})
	if err != nil {
		return err
	}
	defer st.Close()
	cache := newShelf(g.Data)
	o := serve.Options{Addr: c.Addr, Dev: c.Dev, Shelf: serve.NewShelf(cache.recall, cache.keep)}
	if err := c.domain(&o, g.Data); err != nil {
		return err
	}
	o.Desk, err = desk.Open(ctx, st, desk.Options{Clock: g.env.Clock, Passed: desk.Running(), Recall: o.Shelf.Recall, Keep: o.Shelf.Keep})
	if err != nil {
		return err
	}
	return g.serve(ctx, st, o, "")
}

// serve runs the pages and the door for commands on this machine.
func (g *Globals) serve(ctx context.Context, st *sqlite.Store, o serve.Options, banner string) error {
	d := o.Desk
	local := http.NewServeMux()
	local.Handle("POST /local/import", localImport(d))
	local.Handle("POST /local/trip", localRecord[tripCmd](d))
	local.Handle("POST /local/plan", localRecord[leaveCmd](d))
	local.Handle("POST /local/tell", localRecord[tellCmd](d))
	local.Handle("POST /local/left", localRecord[peopleCmd](d))
	local.Handle("POST /local/close", localRecord[closeAnswers](d))
	local.Handle("POST /local/paper/form", localRecord[paperForm](d))
	local.Handle("POST /local/paper/made", localRecord[paperMade](d))
	local.Handle("POST /local/paper/bags", localRecord[bagsCmd](d))
	local.Handle("POST /local/paper/load", localRecord[paperLoad](d))
	local.Handle("POST /local/paper/book", localRecord[paperBook](d))
	local.Handle("POST /local/paper/cancel", localRecord[paperCancel](d))
	local.Handle("POST /local/paper/line", localRecord[paperLine](d))
	local.Handle("POST /local/word", localRecord[wordCmd](d))
	local.Handle("POST /local/give", localRecord[giveCmd](d))
	local.Handle("POST /local/aim", localRecord[aimCmd](d))
	local.Handle("POST /local/rules", localRecord[rulesImport](d))
	local.Handle("POST /local/rules/sign", localRecord[rulesSign](d))
	local.Handle("POST /local/rules/withdraw", localRecord[rulesWithdraw](d))
	local.Handle("POST /local/hold", localRecord[holding](d))
	local.Handle("POST /local/fish", localRecord[tallyCorrect](d))
	local.Handle("POST /local/portion", localRecord[tallyShare](d))
	local.Handle("POST /local/depths", localRecord[depthsCmd](d))
	local.Handle("POST /local/tackle", localRecord[tackleCmd](d))
	local.Handle("POST /local/sounder", localRecord[sounderCmd](d))
	local.Handle("POST /local/ice-table", localRecord[iceTable](d))
	local.Handle("POST /local/ice-strength", localRecord[iceStrength](d))
	local.Handle("POST /local/clarity", localRecord[clarity](d))
	phones := syncing.NewServer(st, nil)
	local.Handle("GET /local/phones", localPhones(phones))
	pictures, err := g.imagery()
	if err != nil {
		return err
	}
	rehearsals := rehearsal.New(slog.Default())
	defer rehearsals.Close()
	book := phonebook.Open(st.Dir())
	o.Imagery, o.Units, o.Version, o.Local, o.Keys = pictures, g.system(), g.env.Version, local, book
	o.Sync = phones.Handler(book)
	o.Pair = func(context.Context) (string, error) { return pairPhone(book, g.env.Clock()) }
	o.Extras = slices.Concat(rehearsals.Extras(), guestreport.New(d).Extras(), paper.New(d).Extras(), []web.Extra{phone.Install(), phone.Aside(d)})
	o.Started = func(address string) error {
		g.say("Icehand %s at %s", g.env.Version, address)
		if o.Domain != "" {
			g.say("and at https://%s, with a key: icehand phone add NAME", o.Domain)
		}
		g.lines("", banner)
		return st.SetAddress(address)
	}
	err = serve.Run(ctx, o)
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// pairPhone puts a phone on file under a name of its own; the guide may add it under a better one.
func pairPhone(book *phonebook.Book, now time.Time) (string, error) {
	list, err := book.List()
	if err != nil {
		return "", err
	}
	return book.Add(fmt.Sprintf("phone %d", len(list)+1), now)
}

// demoAddr is where the demo listens when it may; a demo is never refused because its port is taken.
const demoAddr = "127.0.0.1:8420"

type demoCmd struct {
	Addr string `help:"Address to listen on; a free port when the default is taken." default:"127.0.0.1:8420" placeholder:"HOST:PORT"`
	Seed uint64 `help:"Seed of the made-up lake and days." default:"15"`
	Keep bool   `help:"Keep the demo's record in --data instead of a folder that goes with the program."`
	Dev  string `help:"Serve styles and scripts from this folder." placeholder:"DIR"`
}

func (c demoCmd) Run(ctx context.Context, g *Globals) error {
	dir := g.Data
	if !c.Keep {
		tmp, err := os.MkdirTemp("", "icehand-demo-")
		if err != nil {
			return fault.Wrap(err, fault.Unavailable, "Look at the free space of the folder for temporary files.", "no folder for the demo")
		}
		defer os.RemoveAll(tmp) // a leftover does no harm
		dir = tmp
	}
	st, err := sqlite.Open(ctx, dir, sqlite.Options{Program: "icehand demo"})
	if err != nil {
		return err
	}
	defer st.Close()
	o := serve.Options{Dev: c.Dev, Shelf: serve.NewShelf(nil, nil)}
	o.Desk, err = newDemoOn(ctx, st, c.Seed, g.env.Clock, o.Shelf)
	if err != nil {
		return err
	}
	if c.Addr == demoAddr && taken(c.Addr) {
		c.Addr = "127.0.0.1:0"
	}
	o.Addr = c.Addr
	return g.serve(ctx, st, o, "Made-up lake, people and fish. It is 09:50 on 15 January 2026 there. Stop with Ctrl-C.")
}

// taken tells whether another program listens at an address.
func taken(addr string) bool {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return true
	}
	return l.Close() != nil
}

// newDemo fills a store with the made-up lake and gives a desk whose clock and scout are simulated.
func newDemo(ctx context.Context, st *sqlite.Store, seed uint64, clock func() time.Time) (*desk.Desk, error) {
	return newDemoOn(ctx, st, seed, clock, serve.NewShelf(nil, nil))
}

// newDemoOn is newDemo with a shelf for what phones need not work out.
func newDemoOn(ctx context.Context, st *sqlite.Store, seed uint64, clock func() time.Time, shelf *serve.Shelf) (*desk.Desk, error) {
	demo, err := sim.NewDemo(seed)
	if err == nil {
		err = demo.Furnish()
	}
	if err != nil {
		return nil, err
	}
	if err := demo.Fill(ctx, st); err != nil {
		return nil, err
	}
	s := &scout{clock: clock, offset: demo.Now.Sub(clock())}
	// the scout has walked on from the hole where a guest fishes now, the way the bites went
	s.place = geo.NewFrame(demo.Lake.Frame.Origin()).Local(demo.Scout).Toward(270, 30*quantity.Metre)
	return desk.Open(ctx, st, desk.Options{Clock: s.now, Position: s.where, Follow: s.follow, Seed: seed, Recall: shelf.Recall, Keep: shelf.Keep})
}

// scout is the demo's simulated guide: he stands where he looked last, and a look is made where the advice sent him,
// after the time that the way and the drilling take.
type scout struct {
	clock func() time.Time

	mu     sync.Mutex
	offset time.Duration
	place  geo.Local
}

func (s *scout) now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.clock().Add(s.offset)
}

func (s *scout) where(now time.Time) advise.Place {
	s.mu.Lock()
	defer s.mu.Unlock()
	return advise.Place{At: s.place, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
}

func (s *scout) follow(step advise.Step) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.place = step.To
	s.offset += time.Duration(step.Cost.Minutes * float64(time.Minute))
}

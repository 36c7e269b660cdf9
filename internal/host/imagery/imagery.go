// Package imagery fetches a picture of the lake from above, from a public tile service, when somebody asks for it.
//
// Start with [New]; [Source.Picture] gives one picture on the lake's plane.
// It assumes web mercator tiles at https addresses with the row, column and level in them, as a Web Map Tile Service (OGC
// 07-057r7) gives them in its plain form. A picture is a look and nothing else: clouds, days of age and pixels of hundreds of
// metres say nothing of the ice. Nothing is fetched unless it is asked for, and nothing is kept.
package imagery

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg" // what services send
	"image/png"
	"io"
	"math"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/geo/tile"
)

// Settings are this machine's own, out of icehand.json. The zero value is off.
type Settings struct {
	On     bool   `json:"on"`
	URL    string `json:"url"`    // with {z}, {row}, {col} and perhaps {time}; "": [DefaultURL]
	Level  int    `json:"level"`  // of the tiles; 0: 9
	Credit string `json:"credit"` // shown with every picture; needed with an address of one's own
}

// DefaultURL is daily colour at 250 m from a public service of the United States. NASA-led data are free of rights unless
// marked, and ask for the credit [NASAGIBS].
const (
	DefaultURL    = "https://gibs.earthdata.nasa.gov/wmts/epsg3857/best/MODIS_Terra_CorrectedReflectance_TrueColor/default/{time}/GoogleMapsCompatible_Level9/{z}/{row}/{col}.jpg"
	defaultCredit = "NASA Global Imagery Browse Services, MODIS Terra"
	defaultLevel  = 9
)

const (
	mostTiles  = 24
	mostBytes  = 4 << 20 // of a tile
	mostSide   = 1024    // pixels of a tile
	pixels     = 640     // of the longer side of a picture
	fetchLimit = 40 * time.Second
)

// Source is a service that was switched on.
type Source struct {
	url    string
	level  int
	Credit string
	client *http.Client
}

// New checks the settings; nil without an error when imagery is off.
func New(s Settings) (*Source, error) {
	if !s.On {
		return nil, nil
	}
	if s.URL == "" {
		s.URL = DefaultURL
		if s.Credit == "" {
			s.Credit = defaultCredit
		}
	}
	if s.Level == 0 {
		s.Level = defaultLevel
	}
	u, err := url.Parse(strings.NewReplacer("{", "", "}", "").Replace(s.URL))
	switch {
	case err != nil || u.Host == "" || u.User != nil:
		return nil, fault.New(fault.BadInput, "Write https://host/path/{z}/{row}/{col}.jpg.", "the address of the imagery cannot be used")
	case !strings.Contains(s.URL, "{z}") || !strings.Contains(s.URL, "{row}") || !strings.Contains(s.URL, "{col}"):
		return nil, fault.New(fault.BadInput, "Write {z}, {row} and {col} where level, row and column belong.", "the address of the imagery does not say where a tile's place goes")
	case s.Level < 1 || s.Level > tile.MaxLevel:
		return nil, fault.New(fault.BadInput, "9 is usual for daily pictures.", "imagery has no level %d", s.Level)
	case strings.TrimSpace(s.Credit) == "":
		return nil, fault.New(fault.BadInput, `Write whom the pictures belong to, as "credit".`, "imagery of one's own needs a credit")
	case u.Scheme != "https" && !(u.Scheme == "http" && closed(u.Hostname())):
		return nil, fault.New(fault.BadInput, "Use https; http is for a server of your own, named by its private address.", "the address of the imagery is not encrypted")
	}
	own := closed(u.Hostname())
	dialer := &net.Dialer{Timeout: 10 * time.Second, Control: func(_, address string, _ syscall.RawConn) error {
		a, err := netip.ParseAddrPort(address)
		if err != nil {
			return fmt.Errorf("imagery: dialling: %w", err)
		}
		if !own && !open(a.Addr()) { // a name that leads into a closed network
			return errors.New("imagery: its name leads to a private address")
		}
		return nil
	}}
	client := &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: 10 * time.Second},
		CheckRedirect: func(r *http.Request, via []*http.Request) error {
			if r.URL.Host != via[0].URL.Host || r.URL.Scheme != via[0].URL.Scheme || len(via) > 3 {
				return errors.New("imagery: sent on to another host")
			}
			return nil
		}}
	return &Source{url: s.URL, level: s.Level, Credit: s.Credit, client: client}, nil
}

func open(a netip.Addr) bool { return a.Unmap().IsGlobalUnicast() && !a.Unmap().IsPrivate() }

// closed tells whether a host is named as an address of a closed network.
func closed(host string) bool {
	a, err := netip.ParseAddr(host)
	return strings.EqualFold(host, "localhost") || err == nil && !open(a)
}

// Area is an upright rectangle of the lake's plane.
type Area struct {
	Frame    geo.Frame
	Min, Max geo.Local
}

// Picture gives the area as a PNG on the lake's plane, north up, from the tiles of a day.
func (s *Source) Picture(ctx context.Context, a Area, day time.Time) ([]byte, error) {
	ctx, stop := context.WithTimeout(ctx, fetchLimit)
	defer stop()
	w, h := a.Max.E-a.Min.E, a.Max.N-a.Min.N
	scale := math.Max(w, h) / pixels
	if !(scale > 0) || math.IsInf(scale, 0) {
		return nil, fault.New(fault.Missing, "Import the lake's outline first.", "there is no lake to show from above")
	}
	img := image.NewNRGBA(image.Rect(0, 0, max(1, int(w/scale)), max(1, int(h/scale))))
	tiles := map[tile.Tile]image.Image{}
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			p := a.Frame.Position(geo.Local{E: a.Min.E + (float64(x)+0.5)*scale, N: a.Max.N - (float64(y)+0.5)*scale})
			t := tile.At(p, s.level)
			pic, ok := tiles[t]
			if !ok {
				if len(tiles) == mostTiles {
					return nil, fault.New(fault.BadInput, "Set a lower imagery level in icehand.json.", "the lake needs more than %d tiles at level %d", mostTiles, s.level)
				}
				var err error
				if pic, err = s.tile(ctx, t, day); err != nil {
					return nil, err
				}
				tiles[t] = pic
			}
			img.SetNRGBA(x, y, within(pic, p, t))
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return nil, fmt.Errorf("imagery: writing the picture: %w", err)
	}
	return b.Bytes(), nil
}

// within gives a tile's colour at a place inside it.
func within(pic image.Image, p geo.Position, t tile.Tile) color.NRGBA {
	n := math.Exp2(float64(t.Z))
	φ := p.Lat * math.Pi / 180
	// the place in tiles from the north-west, by the web mercator of the slippy map; package tile gives its whole part
	x, y := (p.Lon+180)/360*n-float64(t.X), (1-math.Asinh(math.Tan(φ))/math.Pi)/2*n-float64(t.Y)
	b := pic.Bounds()
	at := func(u float64, size int) int { return min(max(int(u*float64(size)), 0), size-1) }
	c, ok := color.NRGBAModel.Convert(pic.At(b.Min.X+at(x, b.Dx()), b.Min.Y+at(y, b.Dy()))).(color.NRGBA)
	if !ok {
		panic("imagery: a colour model that gives another colour")
	}
	return c
}

// tile fetches one tile.
func (s *Source) tile(ctx context.Context, t tile.Tile, day time.Time) (image.Image, error) {
	at := strings.NewReplacer("{z}", strconv.Itoa(t.Z), "{row}", strconv.Itoa(t.Y), "{col}", strconv.Itoa(t.X), "{time}", day.UTC().Format(time.DateOnly)).Replace(s.url)
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, at, nil)
	if err != nil {
		return nil, fmt.Errorf("imagery: asking: %w", err)
	}
	r.Header.Set("User-Agent", "icehand")
	res, err := s.client.Do(r)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "Try again with a signal; the map works without.", "the service of pictures does not answer")
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusOK {
		return nil, fault.New(fault.Unavailable, "Try another day or later.", "the service of pictures answers %d", res.StatusCode)
	}
	data, err := io.ReadAll(io.LimitReader(res.Body, mostBytes+1))
	if err != nil || len(data) > mostBytes {
		return nil, fault.Wrap(err, fault.Unavailable, "Try again later.", "the picture came cut short or is too large")
	}
	head, _, err := image.DecodeConfig(bytes.NewReader(data)) // the size first: a small file can claim a huge picture
	if err != nil || head.Width < 1 || head.Height < 1 || head.Width > mostSide || head.Height > mostSide {
		return nil, fault.Wrap(err, fault.Unavailable, "Check the address of the imagery.", "what came is no tile")
	}
	pic, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "Try again later.", "the picture cannot be read")
	}
	return pic, nil
}

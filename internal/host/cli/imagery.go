package cli

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/imagery"
	"icehand/internal/host/web"
	"icehand/internal/keep/sqlite"
)

// imagery gives the pictures from above that this machine's settings switch on, nil for none. The address may also come
// out of the environment, which switches nothing on.
func (g *Globals) imagery() (*web.Imagery, error) {
	var all struct {
		Imagery imagery.Settings `json:"imagery"`
	}
	path := filepath.Join(g.Data, sqlite.SettingsFile)
	f, err := os.Open(path)
	if err == nil {
		defer f.Close()
		err = json.NewDecoder(io.LimitReader(f, 1<<20)).Decode(&all)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) { // the cause could repeat a key that stands in the file
		return nil, fault.New(fault.BadInput, "Mend it: it must be JSON, as docs/commands.md shows.", "%s cannot be read", path)
	}
	if v := g.env.Getenv("ICEHAND_IMAGERY_URL"); v != "" {
		all.Imagery.URL = v
	}
	source, err := imagery.New(all.Imagery)
	if source == nil || err != nil {
		return nil, err
	}
	return &web.Imagery{Credit: source.Credit, Picture: func(ctx context.Context, f geo.Frame, lo, hi geo.Local, day time.Time) ([]byte, error) {
		return source.Picture(ctx, imagery.Area{Frame: f, Min: lo, Max: hi}, day)
	}}, nil
}

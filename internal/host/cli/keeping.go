package cli

import (
	"context"
	"io"
	"os"
	"path/filepath"

	"icehand/internal/base/fault"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

type backupCmd struct {
	To string `arg:"" help:"File to write." placeholder:"FILE"`
}

func (c backupCmd) Run(ctx context.Context, g *Globals) error {
	st, err := sqlite.Open(ctx, g.Data, sqlite.Options{ReadOnly: true})
	if err != nil {
		return err
	}
	defer st.Close()
	audit, err := st.Backup(ctx, c.To)
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(auditJSON(audit, map[string]any{"file": c.To}))
	}
	g.say("%s: %d entries, %d files, checked", c.To, audit.Entries, audit.Blobs)
	return nil
}

type restoreCmd struct {
	From string `arg:"" help:"Backup to bring back." placeholder:"FILE"`
}

func (c restoreCmd) Run(ctx context.Context, g *Globals) error {
	restored, err := sqlite.Restore(ctx, c.From, g.Data, sqlite.RestoreOptions{})
	if err != nil {
		return err
	}
	audit := restored.Audit
	if g.JSON {
		return g.printJSON(auditJSON(audit, map[string]any{"data": g.Data}))
	}
	g.say("restored %d entries and %d files into %s; chain and integrity verified", audit.Entries, audit.Blobs, g.Data)
	return nil
}

type auditCmd struct{}

func (auditCmd) Run(ctx context.Context, g *Globals) error {
	audit, err := g.audit(ctx)
	if err != nil {
		return err
	}
	if g.JSON {
		if err := g.printJSON(auditJSON(audit, nil)); err != nil {
			return err
		}
	} else {
		g.say("%d entries of %d journals, %d files, %d texts read", audit.Entries, audit.Journals, audit.Blobs, audit.Texts)
		for _, d := range audit.Damage {
			g.say("damaged: %s: %s", d.Where, d.What)
		}
	}
	if !audit.Sound() {
		return fault.New(fault.Damaged, "Restore the newest backup beside this folder, and keep this folder: what is whole in it can still be exported.", "%d places do not verify", len(audit.Damage))
	}
	if !g.JSON {
		g.say("every chain, hash and file verifies")
	}
	return nil
}

// audit reads everything. A record too damaged to be opened is read as far as it can be.
func (g *Globals) audit(ctx context.Context) (store.Audit, error) {
	st, err := sqlite.Open(ctx, g.Data, sqlite.Options{ReadOnly: true})
	if fault.CodeOf(err) == fault.Damaged {
		return sqlite.Salvage(ctx, g.Data, func(store.Position, *journal.Entry) error { return nil })
	}
	if err != nil {
		return store.Audit{}, err
	}
	defer st.Close()
	return st.Verify(ctx)
}

func auditJSON(a store.Audit, more map[string]any) map[string]any {
	damage := []map[string]string{}
	for _, d := range a.Damage {
		damage = append(damage, map[string]string{"where": d.Where, "what": d.What})
	}
	out := map[string]any{"journals": a.Journals, "entries": a.Entries, "files": a.Blobs, "texts": a.Texts, "damage": damage, "sound": a.Sound()}
	for k, v := range more {
		out[k] = v
	}
	return out
}

// output gives f a writer: standard output, or a file that appears only when f has succeeded.
func (g *Globals) output(path string, f func(io.Writer) error) error {
	if path == "" || path == "-" {
		return f(g.env.Out)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".icehand-*")
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Choose a folder that exists and can be written.", "%s cannot be written", path)
	}
	defer os.Remove(tmp.Name()) // gone already after the rename
	defer tmp.Close()           // closed already when all went well
	if err := f(tmp); err != nil {
		return err
	}
	if err := tmp.Sync(); err != nil {
		return fault.Wrap(err, fault.NotSaved, "Look at the disk's free space.", "%s was not written", path)
	}
	if err := tmp.Close(); err != nil {
		return fault.Wrap(err, fault.NotSaved, "Look at the disk's free space.", "%s was not written", path)
	}
	return os.Rename(tmp.Name(), path)
}

package phones

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/keep/syncing"
)

var now = time.Date(2026, 1, 15, 9, 50, 0, 0, time.UTC)

func TestKeys(t *testing.T) {
	dir := t.TempDir()
	commands, server := Open(dir), Open(dir) // two processes
	if _, err := server.Phone(t.Context(), "abcd"); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a key without any phone: %v", err)
	}
	red, err := commands.Add(" red phone ", now)
	if err != nil || !regexp.MustCompile(`^([a-z0-9]{4}-){7}[a-z0-9]{4}$`).MatchString(red) {
		t.Fatalf("key %q, %v", red, err)
	}
	blue, err := commands.Add("blue phone", now)
	if err != nil || blue == red {
		t.Fatal(blue, err)
	}
	for _, typed := range []string{red, strings.ToUpper(red), strings.ReplaceAll(red, "-", ""), strings.ReplaceAll(red, "-", " ")} {
		if p, err := server.Phone(t.Context(), typed); err != nil || p.Name != "red phone" {
			t.Errorf("%q: %+v, %v", typed, p, err)
		}
	}
	for _, wrong := range []string{"", "-", red[:len(red)-1], red + "a", strings.Replace(red, red[:1], "?", 1)} {
		if _, err := server.Phone(t.Context(), wrong); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("%q: %v", wrong, err)
		}
	}
	raw, err := os.ReadFile(filepath.Join(dir, File))
	if err != nil || strings.Contains(string(raw), strings.ReplaceAll(red, "-", "")) || strings.Contains(string(raw), red) {
		t.Errorf("the file holds a key: %s %v", raw, err)
	}
	if info, err := os.Stat(filepath.Join(dir, File)); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("others may read the file: %v %v", info.Mode(), err)
	}
	if err := commands.End("RED phone", false, now); err != nil {
		t.Fatal(err)
	}
	if _, err := server.Phone(t.Context(), red); !errors.Is(err, syncing.ErrEnded) || errors.Is(err, syncing.ErrWipe) {
		t.Errorf("an ended phone: %v", err)
	}
	if err := commands.End("red phone", true, now); err != nil {
		t.Fatal(err)
	}
	if _, err := server.Phone(t.Context(), red); !errors.Is(err, syncing.ErrWipe) || !errors.Is(err, syncing.ErrEnded) {
		t.Errorf("a phone to be wiped: %v", err)
	}
	if p, err := server.Phone(t.Context(), blue); err != nil || p.Name != "blue phone" {
		t.Errorf("the other phone: %+v, %v", p, err)
	}
	if again, err := commands.Add("red phone", now); err != nil || again == red {
		t.Errorf("the name of an ended phone: %q, %v", again, err)
	}
	if list, err := server.List(); err != nil || len(list) != 3 || !list[0].Wipe || list[2].Ended != (time.Time{}) {
		t.Errorf("%+v, %v", list, err)
	}
}

func TestBadInput(t *testing.T) {
	b := Open(t.TempDir())
	for _, name := range []string{"", "  ", "a\nb", "\xff", strings.Repeat("x", mostName+1)} {
		if _, err := b.Add(name, now); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := b.Add("one", now); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Add("One", now); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a name twice: %v", err)
	}
	if err := b.End("two", false, now); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("ending nobody: %v", err)
	}
	if err := os.WriteFile(b.path, []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Phone(t.Context(), "abcd"); fault.CodeOf(err) != fault.Damaged {
		t.Errorf("a damaged file: %v", err)
	}
	if _, err := b.Add("three", now); fault.CodeOf(err) != fault.Damaged {
		t.Errorf("adding to a damaged file: %v", err)
	}
	if raw, _ := os.ReadFile(b.path); string(raw) != "{" {
		t.Error("a damaged file was written over")
	}
	lost := Open(filepath.Join(t.TempDir(), "nowhere"))
	if _, err := lost.Add("four", now); fault.CodeOf(err) != fault.NotSaved {
		t.Errorf("no folder: %v", err)
	}
}

package sqlite

import (
	"database/sql"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

var update = flag.Bool("update", false, "write the golden database of the newest shape anew")

var sqlComment = regexp.MustCompile(`--[^\n]*`)

// tidy takes comments and spacing out of SQL.
func tidy(text string) string {
	return strings.Join(strings.Fields(sqlComment.ReplaceAllString(text, "")), " ")
}

// shape gives the tables and indexes of a database, as SQL.
func shape(t *testing.T, path string) []string {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'goose_%' AND name NOT LIKE 'sqlite_%' ORDER BY name")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			t.Fatal(err)
		}
		out = append(out, tidy(text))
	}
	return out
}

// schema/ says what the migrations make.
func TestSchemaIsWhatMigrationsMake(t *testing.T) {
	files, err := filepath.Glob("schema/*.sql")
	if err != nil || len(files) == 0 {
		t.Fatal("no schema files", err)
	}
	stated := filepath.Join(t.TempDir(), "stated.db")
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		execOn(t, stated, string(text))
	}
	dir := t.TempDir()
	openTest(t, dir, Options{}).Close()
	want, got := shape(t, stated), shape(t, filepath.Join(dir, DatabaseFile))
	if !slices.Equal(want, got) || len(got) == 0 {
		t.Errorf("schema/:\n%s\nmigrations:\n%s", strings.Join(want, "\n"), strings.Join(got, "\n"))
	}
}

// Every table is STRICT and has a paragraph; every column says what it holds.
func TestSchemaIsExplained(t *testing.T) {
	files, err := filepath.Glob("schema/*.sql")
	if err != nil || len(files) == 0 {
		t.Fatal("no schema files", err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(string(text), "-- ") || !strings.Contains(string(text), ") STRICT;") {
			t.Errorf("%s: no paragraph, or not STRICT", file)
		}
		for line := range strings.Lines(string(text)) {
			if strings.HasPrefix(line, "  ") && !strings.Contains(line, " -- ") {
				t.Errorf("%s: a column without meaning: %s", file, line)
			}
		}
	}
}

func TestMigrationsAreNumbered(t *testing.T) {
	names, err := fs.Glob(migrationFiles, "migrations/*.sql")
	if err != nil || len(names) == 0 {
		t.Fatal("no migrations", err)
	}
	steps, err := migrations()
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range steps {
		if s.Version != int64(i+1) || !regexp.MustCompile(`^migrations/\d{4}-[a-z-]+\.sql$`).MatchString(names[i]) {
			t.Errorf("%s is step %d, want %d", names[i], s.Version, i+1)
		}
	}
}

// goldenHash is the last hash of the golden databases' journal of five entries; it never changes.
const goldenHash = "8e830a0cc26d897c53e403144428e9eb42e2d1c22d3e459e3fea21ae57d6ea92"

// Every database ever released opens with this program, and holds what it held. One lies in testdata for every shape.
func TestGoldenDatabases(t *testing.T) {
	if *update {
		writeGolden(t)
	}
	files, err := filepath.Glob("testdata/golden-*.db")
	if err != nil || len(files) == 0 {
		t.Fatal("no golden databases", err)
	}
	steps, err := migrations()
	if err != nil || len(files) != len(steps) {
		t.Errorf("%d golden databases for %d shapes, %v", len(files), len(steps), err)
	}
	for _, file := range files {
		dir := t.TempDir()
		if err := copyFile(file, filepath.Join(dir, DatabaseFile)); err != nil {
			t.Fatal(err)
		}
		s := openTest(t, dir, Options{})
		storetest.Sound(t, s, 5)
		var log journal.Log
		es := storetest.ReadAll(t, s, 0)
		for i := range es {
			if err := log.Add(&es[i]); err != nil {
				t.Fatal(err)
			}
		}
		if got := es[4].Hash.String(); got != goldenHash {
			t.Errorf("%s ends in %s", file, got)
		}
		if facts := log.Facts(); len(facts) != 5 || !facts[4].Counts() {
			t.Errorf("%s folds to %d facts", file, len(facts))
		}
		note, ok := log.Facts()[4].Body.(*journal.Note)
		if !ok {
			t.Fatalf("%s ends in %T", file, log.Facts()[4].Body)
		}
		if text, err := s.Text(t.Context(), note.Text); text != "north of the island" {
			t.Errorf("%s: %q, %v", file, text, err)
		}
		storetest.Append(t, s, season(1, 9)) // and can be written on
		storetest.Sound(t, s, 6)
	}
}

// writeGolden writes the golden database of the newest shape.
func writeGolden(t *testing.T) {
	s := openTest(t, filepath.Join(t.TempDir(), "data"), Options{})
	storetest.Append(t, s, season(4, 0))
	text, err := s.PutText(t.Context(), "north of the island")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.PutBlob(t.Context(), []byte("lat,lon,depth_m\n")); err != nil {
		t.Fatal(err)
	}
	at := storetest.T0.AddDate(0, 0, 1)
	e := storetest.Append(t, s, []journal.Draft{storetest.Author.Draft(journal.NewID(), at, at, &journal.Note{Text: text})})
	path := "testdata/golden-0001.db"
	os.Remove(path)
	if _, err := s.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	t.Logf("goldenHash = %q", e[0].Hash)
}

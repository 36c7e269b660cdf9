// Package guard holds the rules of this repository that a program can check. It has tests only.
//
// Start with TestImports, which knows the strata. A failing guard says which rule was broken and why the rule is there.
// It assumes that it runs inside a checkout with the Go toolchain. What needs judgement is left to reviewers.
package guard

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
)

const module = "icehand"

// root is the checkout's top folder.
var root = func() string {
	dir, err := filepath.Abs("../..")
	if err != nil {
		panic(err)
	}
	return dir
}()

// source is one parsed Go file.
type source struct {
	path string // relative to root, slashes
	dir  string
	test bool
	file *ast.File
	set  *token.FileSet
	text string
}

// parsed holds every Go file of the module; they are read once for all tests.
var parsed = sync.OnceValues(func() (out []source, err error) {
	err = filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && path != root || d.Name() == "testdata" || d.Name() == "node_modules") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, path, text, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		out = append(out, source{rel, filepath.ToSlash(filepath.Dir(rel)), strings.HasSuffix(rel, "_test.go"), f, set, string(text)})
		return nil
	})
	return out, err
})

// sources gives every Go file of the module.
func sources(t *testing.T) []source {
	t.Helper()
	out, err := parsed()
	if err != nil || len(out) < 10 {
		t.Fatalf("reading the sources: %d files, %v", len(out), err)
	}
	return out
}

func (s source) generated() bool {
	return strings.HasSuffix(s.path, "_templ.go") || strings.Contains(s.text[:min(200, len(s.text))], "DO NOT EDIT")
}

// stratum is a layer of packages. A package may import what its stratum names, besides the standard library and modules.
type stratum struct {
	folder string   // prefix below internal/
	may    []string // prefixes below internal/ that it may import
}

// strata, bottom to top. The longest matching prefix counts.
var strata = []stratum{
	{"base", []string{"base"}},
	{"trade", []string{"base", "trade"}},
	{"physics", []string{"base", "physics"}},
	{"stats", []string{"base", "stats"}},
	{"engine", []string{"base", "trade", "physics", "stats", "engine"}},
	{"engine/share", []string{"base/area", "base/quantity", "base/fault", "base/markup"}},                // a guest report has no type in which a spot could travel
	{"engine/safety", []string{"base", "trade", "physics", "stats", "engine/ground", "engine/icecover"}}, // safety may veto plan and advise, so it never leans on them
	{"engine/ground", []string{"base", "stats"}},
	{"keep", []string{"base", "trade", "keep"}},
	{"feed", []string{"base", "feed"}},
	{"check", []string{"base", "physics", "stats", "engine", "feed", "check"}},
	{"sim", []string{"base", "trade", "physics", "stats", "engine", "keep/store", "feed", "sim"}},
	{"host", []string{"base", "trade", "physics", "stats", "engine", "keep", "feed", "host"}},
	{"host/cli", []string{"base", "trade", "physics", "stats", "engine", "keep", "feed", "host", "check", "sim"}},
	{"host/imagery", []string{"base"}},                            // pictures from above, fetched on request; the server's alone
	{"host/rehearsal", []string{"base", "engine", "host", "sim"}}, // its page belongs to the server alone, so that the phone carries no made-up lakes
	{"guard", nil},
}

func below(path, folder string) bool { return path == folder || strings.HasPrefix(path, folder+"/") }

func stratumOf(pkg string) *stratum {
	var best *stratum
	for i := range strata {
		if s := &strata[i]; below(pkg, s.folder) && (best == nil || len(s.folder) > len(best.folder)) {
			best = s
		}
	}
	return best
}

func TestImports(t *testing.T) {
	for _, s := range sources(t) {
		pkg, internal := strings.CutPrefix(s.dir, "internal/")
		if !internal || s.test {
			continue // tests may look sideways; cmd wires everything
		}
		layer := stratumOf(pkg)
		if layer == nil {
			t.Errorf("%s: folder %s belongs to no stratum; add it to the guard's table with its reason", s.path, pkg)
			continue
		}
		for _, imp := range s.file.Imports {
			target, ours := strings.CutPrefix(strings.Trim(imp.Path.Value, `"`), module+"/internal/")
			if !ours || target == pkg {
				continue
			}
			if !slices.ContainsFunc(layer.may, func(f string) bool { return below(target, f) }) {
				t.Errorf("%s imports %s: imports go downward only (%s may import %v)", s.path, target, layer.folder, layer.may)
			}
		}
	}
}

// impure lists what nothing up to the engine may import: time comes in as an argument, and there is no input or output.
var impure = []string{"os", "net", "net/http", "log", "log/slog", "database/sql", "io/fs", "os/exec", "syscall"}

func TestPureBelowHosts(t *testing.T) {
	for _, s := range sources(t) {
		if s.test || !slices.ContainsFunc([]string{"base", "trade", "physics", "stats", "engine"}, func(f string) bool { return below(s.dir, "internal/"+f) }) {
			continue
		}
		for _, imp := range s.file.Imports {
			if p := strings.Trim(imp.Path.Value, `"`); slices.Contains(impure, p) {
				t.Errorf("%s imports %s: everything up to the engine is pure", s.path, p)
			}
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After", "Tick", "NewTimer", "NewTicker"}, sel.Sel.Name) {
					t.Errorf("%s: time.%s: time comes in as an argument", s.path, sel.Sel.Name)
				}
			}
			return true
		})
	}
}

func TestOnePackageComment(t *testing.T) {
	comments := map[string][]string{}
	for _, s := range sources(t) {
		if s.test && s.dir != "internal/guard" {
			continue
		}
		if _, ok := comments[s.dir]; !ok {
			comments[s.dir] = nil
		}
		if s.file.Doc != nil && !s.generated() {
			comments[s.dir] = append(comments[s.dir], s.path)
			if n := len(s.file.Doc.Text()); n < 120 {
				t.Errorf("%s: the package comment says too little (%d characters): what it answers, the first call, what it assumes, what it leaves out", s.path, n)
			}
		}
	}
	for dir, files := range comments {
		if len(files) != 1 {
			t.Errorf("%s has %d package comments %v, want one", dir, len(files), files)
		}
	}
}

var tag = regexp.MustCompile(`\(([A-Z][A-Z]*-[0-9]+[a-z]?)\)`)

// TestEquationTags holds code and model notes together: each tag stands in both.
func TestEquationTags(t *testing.T) {
	inCode, inNotes := map[string]string{}, map[string]string{}
	for _, s := range sources(t) {
		if s.test || !(below(s.dir, "internal/physics") || below(s.dir, "internal/stats") || below(s.dir, "internal/engine") || below(s.dir, "internal/base") || below(s.dir, "internal/sim")) {
			continue
		}
		for _, group := range s.file.Comments {
			for _, c := range group.List {
				for _, m := range tag.FindAllStringSubmatch(c.Text, -1) {
					inCode[m[1]] = s.path
				}
			}
		}
	}
	notes, err := filepath.Glob(filepath.Join(root, "docs/models/*.md"))
	if err != nil || len(notes) == 0 {
		t.Fatalf("no model notes: %v", err)
	}
	for _, n := range notes {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range tag.FindAllStringSubmatch(string(b), -1) {
			inNotes[m[1]] = filepath.Base(n)
		}
	}
	if len(inCode) < 10 {
		t.Errorf("only %d equation tags in code", len(inCode))
	}
	for k, where := range inCode {
		if inNotes[k] == "" {
			t.Errorf("%s: equation (%s) is in no model note", where, k)
		}
	}
	for k, where := range inNotes {
		if inCode[k] == "" {
			t.Errorf("docs/models/%s: equation (%s) stands above no line of code", where, k)
		}
	}
}

var sourceKey = regexp.MustCompile(`\[([A-Z][A-Za-z]+(?:19|20)[0-9]{2}[a-z]?)\b`)

// TestSourceKeys: every key of a source resolves in docs/references.md.
func TestSourceKeys(t *testing.T) {
	refs, err := os.ReadFile(filepath.Join(root, "docs/references.md"))
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]string{}
	for _, s := range sources(t) {
		for _, m := range sourceKey.FindAllStringSubmatch(s.text, -1) {
			used[m[1]] = s.path
		}
	}
	notes, err := filepath.Glob(filepath.Join(root, "docs/models/*.md"))
	if err != nil || len(notes) == 0 {
		t.Fatalf("no model notes: %v", err)
	}
	for _, n := range notes {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range sourceKey.FindAllStringSubmatch(string(b), -1) {
			used[m[1]] = filepath.Base(n)
		}
	}
	if len(used) == 0 {
		t.Fatal("no source is named anywhere")
	}
	for key, where := range used {
		if !strings.Contains(string(refs), "["+key+"]") {
			t.Errorf("%s names source [%s], which docs/references.md does not list", where, key)
		}
	}
}

// TestSize: long files and functions give their reason.
func TestSize(t *testing.T) {
	for _, s := range sources(t) {
		if s.generated() || s.test {
			continue
		}
		lines := strings.Split(s.text, "\n")
		head := strings.Join(lines[:min(12, len(lines))], "\n")
		if len(lines) > 500 && !strings.Contains(head, "long because") {
			t.Errorf("%s has %d lines: split it, or say \"long because\" in its first lines", s.path, len(lines))
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Body == nil {
				continue
			}
			n := s.set.Position(f.End()).Line - s.set.Position(f.Pos()).Line
			if n > 60 && !strings.Contains(f.Doc.Text(), "long because") {
				t.Errorf("%s: %s has %d lines: split it, or say \"long because\" in its comment", s.path, f.Name.Name, n)
			}
		}
	}
}

// TestNoEmptyCases: a test that reads its cases from files must notice when it finds none.
func TestNoEmptyCases(t *testing.T) {
	for _, s := range sources(t) {
		if !s.test {
			continue
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Body == nil {
				continue
			}
			body := s.text[s.set.Position(f.Pos()).Offset:s.set.Position(f.End()).Offset]
			if regexp.MustCompile(`\.(Glob|ReadDir|ReadAll)\(`).MatchString(body) && strings.Contains(body, "testdata") && !strings.Contains(body, "len(") {
				t.Errorf("%s: %s reads cases from files and never asks how many: an empty set would pass", s.path, f.Name.Name)
			}
		}
	}
}

// TestEveryTestCanFail: a test function calls something that can fail it.
func TestEveryTestCanFail(t *testing.T) {
	canFail := regexp.MustCompile(`\bt\.(Error|Errorf|Fatal|Fatalf|Fail|FailNow|Run)\b|\(t[,)]|rapid\.|\bt,`)
	for _, s := range sources(t) {
		if !s.test {
			continue
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Body == nil || f.Recv != nil || !strings.HasPrefix(f.Name.Name, "Test") || f.Name.Name == "TestMain" {
				continue
			}
			body := s.text[s.set.Position(f.Body.Pos()).Offset:s.set.Position(f.Body.End()).Offset]
			if !canFail.MatchString(body) {
				t.Errorf("%s: %s cannot fail", s.path, f.Name.Name)
			}
		}
	}
}

func goTool(t *testing.T, env []string, args ...string) string {
	t.Helper()
	cmd := exec.Command("go", args...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), env...)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("go %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

var wasm = []string{"GOOS=js", "GOARCH=wasm"}

// TestPhoneBuild: engine and pages compile for the browser.
func TestPhoneBuild(t *testing.T) {
	goTool(t, wasm, "build", "./internal/engine/...", "./internal/host/web/...", "./internal/keep/mem")
}

// TestPhoneDependencies: what swells or cannot live in the phone build stays out of the pages.
func TestPhoneDependencies(t *testing.T) {
	why := map[string]string{
		"database/sql": "there is no SQL on the phone", "gonum.org/v1/plot": "it carries fonts of 2 MB",
		"net/http/httptest": "it belongs to tests", "modernc.org/sqlite": "it does not run in the browser",
	}
	deps := goTool(t, wasm, "list", "-deps", "./internal/engine/...", "./internal/host/web/...")
	if !strings.Contains(deps, module+"/internal/engine/") {
		t.Fatal("go list found nothing of ours")
	}
	for _, d := range strings.Fields(deps) {
		if reason, bad := why[d]; bad {
			t.Errorf("the phone's pages depend on %s: %s", d, reason)
		}
		if below(d, module+"/internal/sim") {
			t.Errorf("the phone's pages depend on %s: made-up lakes stay with the server", d)
		}
	}
	// The standard templates reach methods by name: the linker would keep every method of every type.
	for _, s := range sources(t) {
		for _, imp := range s.file.Imports {
			if p := strings.Trim(imp.Path.Value, `"`); !s.test && (p == "text/template" || p == "html/template") {
				t.Errorf("%s imports %s: it would keep every exported method in the phone's binary", s.path, p)
			}
		}
	}
}

func TestGoModHasNoReplace(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	if regexp.MustCompile(`(?m)^\s*replace\b`).Match(b) {
		t.Error("go.mod replaces a module: a fresh checkout would not build from published versions")
	}
}

var unfinished = regexp.MustCompile(`\b(TODO|FIXME|XXX)\b`)

// TestNothingUnfinished: no marker of unfinished work in what we ship.
func TestNothingUnfinished(t *testing.T) {
	for _, s := range sources(t) {
		if s.dir == "internal/guard" || s.generated() {
			continue
		}
		if m := unfinished.FindString(s.text); m != "" {
			t.Errorf("%s holds %q: finish it or write it into the closing words of the change", s.path, m)
		}
	}
}

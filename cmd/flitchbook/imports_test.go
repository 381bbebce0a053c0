package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "flitchbook/"

// may is the house's one direction: a package and those below, by prefix. What is not
// listed may not be imported.
var may = []struct {
	of      string
	imports []string
}{
	{"planner/unit", nil},
	{"planner", []string{"planner"}},
	{"migrations", nil},
	{"api/shop", []string{"planner"}},
	{"api/reckon", []string{"planner", "api/shop"}},
	{"api/store", []string{"planner", "api/shop", "migrations"}},
	{"api", []string{"planner", "api"}},
	{"mail", []string{"planner", "api/shop", "mail"}},
	{"frontend", []string{"planner", "api", "mail/calendar", "frontend"}},
	{"testdata", []string{"planner", "api/shop", "testdata"}},
	{"cmd", []string{""}},
}

// barred libraries, by who may not have them.
var barred = []struct {
	of  string
	not []string
}{
	{"api/shop", []string{"gorm.io/", "github.com/labstack/", "github.com/danielgtaylor/", "database/sql", "net/http", "log/slog"}},
	{"api/store", []string{"github.com/labstack/", "github.com/danielgtaylor/", "net/http", "html/template"}},
	{"mail", []string{"gorm.io/", "database/sql", "github.com/labstack/"}},
	{"frontend", []string{"gorm.io/", "database/sql", "github.com/danielgtaylor/"}},
	{"migrations", []string{"gorm.io/", "github.com/labstack/"}},
}

type listed struct {
	ImportPath string
	Dir        string
	GoFiles    []string
	Imports    []string
}

// ours lists the packages of the program without test kits.
func ours(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports", "./...")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []listed
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(p.ImportPath, "test") { // storetest, browsertest: for tests alone
			continue
		}
		p.ImportPath = strings.TrimPrefix(p.ImportPath, module)
		all = append(all, p)
	}
	if len(all) < 10 {
		t.Fatalf("go list names only %d packages", len(all))
	}
	return all
}

func within(p, root string) bool {
	return root == "" || p == root || strings.HasPrefix(p, root+"/")
}

func TestImportsPointOneWay(t *testing.T) {
	for _, p := range ours(t) {
		row := slices.IndexFunc(may, func(m struct {
			of      string
			imports []string
		}) bool {
			return within(p.ImportPath, m.of)
		})
		if row < 0 {
			t.Errorf("%s has no place in the house: give it a row", p.ImportPath)
			continue
		}
		for _, im := range p.Imports {
			name, own := strings.CutPrefix(im, module)
			if own && !slices.ContainsFunc(may[row].imports, func(root string) bool { return within(name, root) }) {
				t.Errorf("%s imports %s", p.ImportPath, name)
			}
			if own && strings.HasSuffix(name, "test") {
				t.Errorf("%s imports the test kit %s", p.ImportPath, name)
			}
			for _, b := range barred {
				if !own && within(p.ImportPath, b.of) && slices.ContainsFunc(b.not, func(l string) bool { return strings.HasPrefix(im, l) }) {
					t.Errorf("%s imports %s", p.ImportPath, im)
				}
			}
		}
	}
}

// Only the program itself looks at the clock and the environment: everything else is
// told. Timers and deadlines that bound a wait are no clock.
func TestClockAndEnvironmentAreTheProgramsOwn(t *testing.T) {
	never := map[string][]string{
		"time": {"Now", "Since", "Sleep"},
		"os":   {"Getenv", "LookupEnv", "Environ"},
	}
	looked := 0
	for _, p := range ours(t) {
		if within(p.ImportPath, "cmd") {
			continue
		}
		for _, name := range p.GoFiles {
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			looked++
			imported := map[string]string{} // local name to path
			for _, im := range f.Imports {
				path, err := strconv.Unquote(im.Path.Value)
				if err != nil {
					t.Fatal(err)
				}
				local := filepath.Base(path)
				if im.Name != nil {
					local = im.Name.Name
				}
				imported[local] = path
			}
			ast.Inspect(f, func(n ast.Node) bool {
				sel, ok := n.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				if x, ok := sel.X.(*ast.Ident); ok && slices.Contains(never[imported[x.Name]], sel.Sel.Name) {
					t.Errorf("%s/%s uses %s.%s", p.ImportPath, name, x.Name, sel.Sel.Name)
				}
				return true
			})
		}
	}
	if looked < 50 {
		t.Errorf("only %d files looked at", looked)
	}
}

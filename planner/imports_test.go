package planner

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The planner is pure: nothing outside planner and the standard library, however
// indirectly.
func TestPlannerDependsOnNothingElse(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "./...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	packages := strings.Fields(string(out))
	if len(packages) < 4 {
		t.Fatalf("go list names only %v", packages)
	}
	for _, p := range packages {
		if p != "flitchbook/planner" && !strings.HasPrefix(p, "flitchbook/planner/") {
			t.Errorf("planner depends on %s", p)
		}
	}
}

// barred is what pure code must not import: clocks of its own, randomness, network,
// files and databases. The one exception is the interface by which a Day stores itself.
var barred = []string{"net", "net/http", "database/sql", "os", "log", "log/slog", "math/rand", "math/rand/v2", "crypto/rand", "sync", "context"}

// Planner and the words and rules of the shop take time as an argument and touch
// nothing outside.
func TestPureCode(t *testing.T) {
	shop := "../api/shop"
	dirs := []string{"."}
	if _, err := os.Stat(shop); err == nil {
		dirs = append(dirs, shop)
	}
	files := 0
	for _, dir := range dirs {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files++
			src, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, call := range []string{"time.Now(", "time.Since(", "time.Until(", "time.Sleep(", "time.After("} {
				if strings.Contains(string(src), call) {
					t.Errorf("%s calls %s…)", path, call)
				}
			}
			f, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ImportsOnly)
			if err != nil {
				return err
			}
			for _, im := range f.Imports {
				name, _ := strconv.Unquote(im.Path.Value)
				for _, bad := range barred {
					if name == bad {
						t.Errorf("%s imports %s", path, name)
					}
				}
				if strings.HasPrefix(name, "database/sql/") && filepath.Dir(path) != "unit" && dir == "." {
					t.Errorf("%s imports %s; only planner/unit may", path, name)
				}
				if strings.HasPrefix(name, "gorm.io/") {
					t.Errorf("%s imports %s", path, name)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 10 {
		t.Errorf("only %d files looked at", files)
	}
}

package browsertest

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// axe-core is fetched by the test into a folder that is never committed, and only
// taken when it is the very package published under this version.
const (
	axeVersion = "4.14.1"
	axeSHA512  = "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="
)

// Axe checks the page against the machine-checkable rules of WCAG 2.2 level A and
// AA and axe-core's best practices. ignore names rules to leave out; say why beside
// the call.
func (tab *Tab) Axe(ignore ...string) {
	tab.t.Helper()
	for _, v := range tab.violations(ignore) {
		tab.t.Errorf("accessibility at %d px: %s: %s\n\t%s", tab.screen.Width, v.ID, v.Help, strings.Join(v.Nodes, "\n\t"))
	}
}

type violation struct {
	ID, Help string
	Nodes    []string
}

func (tab *Tab) violations(ignore []string) []violation {
	tab.t.Helper()
	src := axe(tab.t)
	if !Eval[bool](tab, `typeof axe === "object"`) {
		Eval[bool](tab, src+"\n;true")
	}
	off := `{`
	for _, rule := range ignore {
		off += quote(rule) + `: {enabled: false},`
	}
	off += `}`
	return Eval[[]violation](tab, `axe.run(document, {
		resultTypes: ["violations"], rules: `+off+`,
		runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
	}).then((r) => r.violations.map((v) => ({
		ID: v.id, Help: v.help, Nodes: v.nodes.map((n) => n.html.slice(0, 160) + " — " + (n.any[0] || n.all[0] || n.none[0] || {message: ""}).message),
	})))`)
}

// axe returns the text of axe.min.js.
func axe(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(moduleRoot(t), ".cache", "axe")
	tgz := filepath.Join(dir, "axe-core-"+axeVersion+".tgz")
	b, err := os.ReadFile(tgz)
	if err != nil {
		b = fetchAxe(t, dir, filepath.Base(tgz))
	}
	if sum := sha512.Sum512(b); base64.StdEncoding.EncodeToString(sum[:]) != axeSHA512 {
		t.Fatalf("%s is not the published axe-core %s; delete it", tgz, axeVersion)
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err != nil {
			t.Fatalf("%s holds no axe.min.js: %v", tgz, err)
		}
		if h.Name == "package/axe.min.js" {
			js, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			return string(js)
		}
	}
}

// fetchAxe packs into a folder of its own and moves the file into place, so that
// tests running side by side never read half of it.
func fetchAxe(t *testing.T, dir, name string) []byte {
	t.Helper()
	npm := Need(t, "npm", "to fetch axe-core")
	tmp := t.TempDir()
	cmd := exec.Command(npm, "pack", "--silent", "axe-core@"+axeVersion)
	cmd.Dir = tmp
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Logf("npm pack: %v\n%s", err, out)
		Missing(t, "package axe-core "+axeVersion+" (npm could not fetch it)")
	}
	b, err := os.ReadFile(filepath.Join(tmp, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	part, err := os.CreateTemp(dir, "part-*")
	if err != nil {
		t.Fatal(err)
	}
	defer os.Remove(part.Name())
	if _, err := part.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := part.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(part.Name(), filepath.Join(dir, name)); err != nil {
		t.Fatal(err)
	}
	return b
}

func moduleRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
}

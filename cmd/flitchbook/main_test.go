package main

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"flitchbook/api/reckon"
)

// reexec makes the test binary the program itself, so that tests can run it as a
// process of its own and kill it.
const reexec = "FLITCHBOOK_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(reexec) != "" {
		if c := os.Getenv(paceOf); c != "" {
			wallClock = readPace(c).now
		}
		main()
	}
	flag.Parse()
	if f := flag.Lookup("test.parallel"); f.Value.String() == f.DefValue {
		if err := f.Value.Set("4"); err != nil { // more than cores: stories wait for the disk
			panic(err)
		}
	}
	code := m.Run()
	spots.clear()
	os.Exit(code)
}

// A shell runs the program in a folder, each time as a new run.
type shell struct {
	t   *testing.T
	dir string
	env []string
}

func newShell(t *testing.T) *shell {
	dir := t.TempDir()
	return &shell{t, dir, []string{
		"FLITCHBOOK_DATABASE=sqlite:" + filepath.Join(dir, "shop.db"),
		"FLITCHBOOK_SECRET_FILE=" + filepath.Join(dir, "secret"),
		"FLITCHBOOK_MAIL_FOLDER=" + filepath.Join(dir, "mail"),
	}}
}

func (s *shell) run(in string, args ...string) (code int, out, errOut string) {
	s.t.Helper()
	var o, e bytes.Buffer
	code = run(s.t.Context(), args, strings.NewReader(in), &o, &e, s.env)
	return code, o.String(), e.String()
}

// ok is run for what must go well.
func (s *shell) ok(in string, args ...string) string {
	s.t.Helper()
	code, out, errOut := s.run(in, args...)
	if code != 0 {
		s.t.Fatalf("flitchbook %v: %d\n%s%s", args, code, out, errOut)
	}
	return out
}

func TestHelpNamesEveryCommandAndItsVariables(t *testing.T) {
	s := newShell(t)
	help := s.ok("", "--help")
	for _, c := range []string{"serve", "migrate", "user add", "user list", "user disable", "user password", "furnish", "check", "backup", "restore", "export", "import", "reckon"} {
		if !strings.Contains(help, c) {
			t.Errorf("the help does not name %s", c)
		}
	}
	serve := s.ok("", "serve", "--help")
	for _, flag := range regexp.MustCompile(`--[a-z0-9-]+`).FindAllString(serve, -1) {
		if flag != "--help" && flag != "--version" && !strings.Contains(serve, "$"+variable(flag[2:])) {
			t.Errorf("the help of serve does not name the variable of %s", flag)
		}
	}
	if out := s.ok("", "--version"); !strings.Contains(out, "go1.") {
		t.Error(out)
	}
	if code, _, errOut := s.run("", "bake"); code != 2 || !strings.Contains(errOut, "bake") {
		t.Error(code, errOut)
	}
}

func TestUsersByCommand(t *testing.T) {
	s := newShell(t)
	s.ok(testPassword+"\n", "user", "add", "odile", "--name", "Odile", "--role", "owner")
	s.ok(testPassword, "user", "add", "bram", "--name", "Bram", "--role", "staff", "--under-18")
	list := s.ok("", "user", "list")
	if !regexp.MustCompile(`(?m)^bram +Bram +staff +under 18$`).MatchString(list) || strings.Contains(list, "argon2") {
		t.Error(list)
	}
	for _, tc := range []struct {
		in   string
		args []string
		says string
	}{
		{"short\n", []string{"user", "add", "jun", "--name", "Jun", "--role", "kitchen"}, "at least 12"},
		{"", []string{"user", "add", "jun", "--name", "Jun", "--role", "kitchen"}, "standard input"},
		{testPassword, []string{"user", "add", "odile", "--name", "O", "--role", "owner"}, "already"},
		{testPassword, []string{"user", "add", "jun", "--name", "Jun", "--role", "boss"}, "owner"},
		{"", []string{"user", "disable", "odile"}, "last owner"},
		{"", []string{"user", "disable", "nobody"}, "could not be found"},
	} {
		code, _, errOut := s.run(tc.in, tc.args...)
		if code == 0 || !strings.Contains(errOut, tc.says) {
			t.Errorf("%v: %d %s, want it to say %q", tc.args, code, errOut, tc.says)
		}
	}
	s.ok("", "user", "disable", "bram")
	if list := s.ok("", "user", "list"); !strings.Contains(list, "disabled") || strings.Contains(list, "jun") {
		t.Error(list)
	}
	s.ok("another sentence here\n", "user", "password", "odile")
}

// Records leave in open files and come back whole; what is not whole stays out.
func TestExportImport(t *testing.T) {
	s := newShell(t)
	s.ok("", "furnish", filepath.Join("..", "..", "testdata", "scenario", "shop.json"))
	file := filepath.Join(s.dir, "shop.zip")
	if out := s.ok("", "export", file); !strings.Contains(out, "secret file") {
		t.Error(out)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Error(info, err)
	}
	if code, _, errOut := s.run("", "export", file); code != 1 || !strings.Contains(errOut, "exists") {
		t.Error(code, errOut)
	}
	if code, _, errOut := s.run("", "import", file); code != 1 || !strings.Contains(errOut, "not empty") {
		t.Error("into a database in use:", code, errOut)
	}
	to := "sqlite:" + filepath.Join(s.dir, "new.db")
	if code, _, errOut := s.run("", "import", file, "--database", to, "--secret-file", filepath.Join(s.dir, "none")); code != 2 || !strings.Contains(errOut, "secret") {
		t.Error("without the secret file:", code, errOut)
	}
	for name, spoil := range map[string]func(string) string{
		"a line changed":  func(b string) string { return strings.Replace(b, "Harl Bank", "Hard Bank", 1) },
		"a line lost":     func(b string) string { return b[strings.Index(b, "\n")+1:] },
		"a number spoilt": func(b string) string { return strings.Replace(b, `"id":1`, `"id":"one"`, 1) },
	} {
		broken := filepath.Join(s.dir, "broken.zip")
		respell(t, file, broken, "tables/farms.jsonl", spoil)
		code, _, errOut := s.run("", "import", broken, "--database", to)
		if code != 1 || !strings.Contains(errOut, "farms.jsonl") {
			t.Errorf("%s: %d %s", name, code, errOut)
		}
	}
	if code, _, errOut := s.run("", "import", filepath.Join(s.dir, "secret"), "--database", to); code != 1 || !strings.Contains(errOut, "not an archive") {
		t.Error(code, errOut)
	}
	if out := s.ok("", "import", file, "--database", to); !strings.Contains(out, "records read in") || !strings.Contains(out, "holds ") || strings.Contains(out, "BROKEN") {
		t.Error(out)
	}
}

// respell copies a zip with one of its files changed.
func respell(t *testing.T, from, to, name string, spoil func(string) string) {
	t.Helper()
	z, err := zip.OpenReader(from)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == name {
			was := string(b)
			if b = []byte(spoil(was)); string(b) == was {
				t.Fatalf("%s was not changed", name)
			}
		}
		part, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := part.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestFurnishCheckBackupMigrate(t *testing.T) {
	s := newShell(t)
	file := filepath.Join("..", "..", "testdata", "scenario", "shop.json")
	if out := s.ok("", "furnish", file); !strings.Contains(out, "furnished") {
		t.Error(out)
	}
	s.ok("", "furnish", file)
	bad := filepath.Join(s.dir, "bad.json")
	if err := os.WriteFile(bad, []byte(`{"name":"X","colour":"red"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := s.run("", "furnish", bad); code != 1 || !strings.Contains(errOut, "colour") {
		t.Error(code, errOut)
	}
	if out := s.ok("", "check"); strings.Contains(out, "BROKEN") || strings.Count(out, "holds ") < 15 {
		t.Error(out)
	}
	if out := s.ok("", "migrate"); !strings.Contains(out, "at version") {
		t.Error(out)
	}
	copied := filepath.Join(s.dir, "copy.db")
	s.ok("", "backup", copied)
	if code, _, errOut := s.run("", "backup", copied); code != 1 || !strings.Contains(errOut, "exists") {
		t.Error(code, errOut)
	}
	if out := s.ok("", "check", "--database", "sqlite:"+copied); strings.Contains(out, "BROKEN") {
		t.Error(out)
	}
	if code, _, errOut := s.run("", "backup", copied, "--database", "postgres://x/y"); code != 2 || !strings.Contains(errOut, "pg_dump") {
		t.Error(code, errOut)
	}
	back := filepath.Join(s.dir, "back.db")
	if out := s.ok("", "restore", copied, "--database", "sqlite:"+back); !strings.Contains(out, "holds ") || strings.Contains(out, "BROKEN") {
		t.Error(out)
	}
	if code, _, errOut := s.run("", "restore", copied, "--database", "sqlite:"+back); code != 2 || !strings.Contains(errOut, "already") {
		t.Error(code, errOut)
	}
	for _, private := range []string{"shop.db", "secret", "copy.db", "back.db"} {
		if info, err := os.Stat(filepath.Join(s.dir, private)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v", private, info.Mode(), err)
		}
	}
	secret, err := os.ReadFile(filepath.Join(s.dir, "secret"))
	if err != nil || len(secret) != 32 || bytes.Count(secret, secret[:1]) > 8 {
		t.Errorf("the secret has %d bytes (%v)", len(secret), err)
	}
}

func TestReckon(t *testing.T) {
	s := newShell(t)
	list := s.ok("", "reckon")
	for _, kind := range reckon.Kinds() {
		if !strings.Contains(list, kind) {
			t.Errorf("%s is not listed", kind)
		}
		example := s.ok("", "reckon", kind, "--example")
		file := filepath.Join(s.dir, kind+".json")
		if err := os.WriteFile(file, []byte(example), 0o600); err != nil {
			t.Fatal(err)
		}
		fromFile, fromInput := s.ok("", "reckon", kind, file), s.ok(example, "reckon", kind, "-")
		if fromFile != fromInput || !json.Valid([]byte(fromFile)) {
			t.Errorf("%s: file and input differ, or it is no JSON", kind)
		}
		if schema := s.ok("", "reckon", kind, "--schema"); !json.Valid([]byte(schema)) || !strings.Contains(schema, `"properties"`) {
			t.Errorf("%s has no schema", kind)
		}
		code, out, errOut := s.run(`{"no such field": 1}`, "reckon", kind)
		var p struct {
			Status int
			Errors []any
		}
		if err := json.Unmarshal([]byte(errOut), &p); err != nil || code != 2 || out != "" || p.Status != 422 || len(p.Errors) == 0 {
			t.Errorf("%s: %d %q %q (%v)", kind, code, out, errOut, err)
		}
	}
	for _, args := range [][]string{{"reckon", "weather"}, {"reckon", "yield", filepath.Join(s.dir, "none.json")}, {"reckon", "yield", "--example", "--schema"}} {
		if code, out, errOut := s.run("", args...); code != 2 || out != "" || errOut == "" {
			t.Errorf("%v: %d %q %q", args, code, out, errOut)
		}
	}
}

func TestSettingsThatContradictAreRefused(t *testing.T) {
	for _, tc := range []struct {
		name string
		args []string
		env  string
		says string
	}{
		{"no scheme", []string{"--base-url", "shop.example.test"}, "", "neither http"},
		{"path in the base", []string{"--base-url", "https://shop.example.test/book"}, "", "nothing else"},
		{"https without TLS", []string{"--base-url", "https://shop.example.test"}, "", "nobody could sign in"},
		{"plain beyond this machine", []string{"--base-url", "http://shop.example.test"}, "", "--allow-plain"},
		{"plain for all networks", []string{"--listen", "0.0.0.0:8080"}, "", "--allow-plain"},
		{"certificate alone", []string{"--tls-cert", "c.pem"}, "", "--tls-key"},
		{"certificate and http", []string{"--tls-cert", "c.pem", "--tls-key", "k.pem"}, "", "plain http"},
		{"bad proxy", []string{"--trusted-proxy", "10.0.0.1/99"}, "", "not a network"},
		{"no port", []string{"--listen", "127.0.0.1"}, "", "a host and a port"},
		{"no limits", []string{"--posts-minute", "0"}, "", "at least 1"},
		{"database of another kind", []string{"--database", "mongo://x"}, "", "neither sqlite: nor postgres"},
		{"user without server", []string{"--smtp-user", "u"}, "", "--smtp-host"},
		{"user without password file", []string{"--smtp-host", "m.example.test", "--smtp-user", "u", "--mail-from", "shop@example.test"}, "", "password file"},
		{"server without sender", []string{"--smtp-host", "m.example.test"}, "", "--mail-from"},
		{"plain mail beyond this machine", []string{"--smtp-host", "m.example.test", "--mail-from", "shop@example.test", "--smtp-security", "plain"}, "", "starttls"},
		{"sender that is no address", []string{"--mail-from", "shop"}, "", "--mail-from"},
		{"by variable", nil, "FLITCHBOOK_BASE_URL=ftp://x", "neither http"},
		{"number by variable", nil, "FLITCHBOOK_BODY_LIMIT=lots", "lots"},
		{"unknown rule", []string{"--rules-file", "testdata"}, "", "rules file"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := newShell(t)
			s.env = append(s.env, tc.env)
			code, _, errOut := s.run("", append([]string{"serve", "--listen", "127.0.0.1:0"}, tc.args...)...)
			if code == 0 || !strings.Contains(errOut, tc.says) {
				t.Errorf("%d %q, want it to say %q", code, errOut, tc.says)
			}
			if _, err := os.Stat(filepath.Join(s.dir, "shop.db")); err == nil && tc.name != "unknown rule" {
				t.Error("refused, and yet a database was made")
			}
		})
	}
}

func TestRulesFile(t *testing.T) {
	s := newShell(t)
	for name, tc := range map[string]struct{ text, says string }{
		"unknown":  {`{"hold_onlin": 30}`, "hold_onlin"},
		"zone":     {`{"zone": "America/Chikago"}`, "Chikago"},
		"kind":     {`{"hold_online": "long"}`, "hold_online"},
		"trailing": {`{"hold_online": 30} {}`, "after the end"},
		"good":     {`{"hold_online": 30, "slab_min": "4 lb"}`, ""},
	} {
		file := filepath.Join(s.dir, name+".json")
		if err := os.WriteFile(file, []byte(tc.text), 0o600); err != nil {
			t.Fatal(err)
		}
		r, err := shopConfig{RulesFile: file}.rules()
		if tc.says == "" {
			if err != nil || r.HoldOnline != 30 || r.HoldCounter != 72 {
				t.Errorf("%s: %+v %v", name, r, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: %v, want it to say %q", name, err, tc.says)
		}
	}
}

func TestSecretsOthersCanRead(t *testing.T) {
	s := newShell(t)
	s.ok("", "migrate")
	secret := filepath.Join(s.dir, "secret")
	if err := os.Chmod(secret, 0o644); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := s.run("", "migrate"); code != 2 || !strings.Contains(errOut, "chmod 600") {
		t.Error(code, errOut)
	}
	if err := os.Chmod(secret, 0o600); err != nil {
		t.Fatal(err)
	}
	s.ok("", "migrate")
	if err := os.Truncate(secret, 5); err != nil {
		t.Fatal(err)
	}
	if code, _, errOut := s.run("", "migrate"); code != 2 || !strings.Contains(errOut, "cut short") {
		t.Error(code, errOut)
	}
}

func TestDomainStaysOnceUsed(t *testing.T) {
	s := newShell(t)
	s.ok("", "migrate", "--domain", "corbel.example.test")
	if code, _, errOut := s.run("", "migrate", "--domain", "other.example.test"); code != 2 || !strings.Contains(errOut, "corbel.example.test") {
		t.Error(code, errOut)
	}
	s.ok("", "migrate", "--base-url", "https://moved.example.test")
	s.ok("", "migrate", "--domain", "corbel.example.test")
}

// TestServeFromStartToStop runs the real command and ends it as a signal would.
func TestServeFromStartToStop(t *testing.T) {
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	s := newShell(t)
	s.ok("", "furnish", filepath.Join("..", "..", "testdata", "scenario", "shop.json"))
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	fromProgram, out := io.Pipe()
	errOut := &lockedBuffer{}
	done := make(chan int, 1)
	go func() {
		code := run(ctx, []string{"serve", "--listen", "127.0.0.1:0", "--log-format", "json"}, nil, out, errOut, s.env)
		out.Close()
		done <- code
	}()
	first, err := bufio.NewReader(fromProgram).ReadString('\n')
	found := regexp.MustCompile(`^Corbel Street Butchery is open at \S+ \(listening on (\S+)\)\n$`).FindStringSubmatch(first)
	if found == nil {
		t.Fatalf("it said %q, not where it listens (%v): %s", first, err, errOut)
	}
	c := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 10 * time.Second}
	res, err := c.Get("http://" + found[1] + "/healthz")
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatal(res, err)
	}
	res.Body.Close()
	if code, _, _ := s.run("", "check"); code != 0 {
		t.Error("check cannot work beside a running server")
	}
	stop()
	select {
	case code := <-done:
		if code != 0 {
			t.Errorf("stopped with %d: %s", code, errOut)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("it does not stop")
	}
	for line := range strings.SplitSeq(strings.TrimSpace(errOut.String()), "\n") {
		if !json.Valid([]byte(line)) {
			t.Errorf("a log line is no JSON: %s", line)
		}
	}
}

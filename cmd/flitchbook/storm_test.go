package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// How long the storm lasts: FLITCHBOOK_STORM=1m go test ./cmd/flitchbook -run TestStorm -v
// is the whole of it, with 64 customers on each database. Without it some seconds with half
// as many must do. FLITCHBOOK_STORM_SEED=7 makes other choices.
const (
	stormLasts = "FLITCHBOOK_STORM"
	stormSeed  = "FLITCHBOOK_STORM_SEED"
)

// paceOf tells a program that is run as a process of its own how its clock goes.
const paceOf = "FLITCHBOOK_TEST_PACE"

// A pace is a clock that goes faster than the wall's: holds of twenty minutes end while a
// test looks on, by the house's own rules.
type pace struct {
	from  int64 // of the wall, nanoseconds
	at    int64 // what it showed then
	times int64
}

func (p pace) now() time.Time { return time.Unix(0, p.at+(time.Now().UnixNano()-p.from)*p.times) }

// slower is the same clock from now on, going so many times slower.
func (p pace) slower(times int64) pace {
	now := time.Now().UnixNano()
	return pace{from: now, at: p.at + (now-p.from)*p.times, times: p.times / times}
}

func (p pace) String() string { return fmt.Sprintf("%d %d %d", p.from, p.at, p.times) }

func readPace(s string) (p pace) {
	if _, err := fmt.Sscan(s, &p.from, &p.at, &p.times); err != nil {
		panic(err)
	}
	return p
}

// A process is the program as a process of its own, so that it can be killed.
type process struct {
	cmd *exec.Cmd
	err bytes.Buffer
}

// A storm is many customers at once on a program that is killed while they book, pay,
// move and leave, with a payment provider that fails in every way.
type storm struct {
	t       *testing.T
	shop    shopConfig
	dir     string
	address string
	client  *http.Client
	cookie  map[string]string // by who has signed in
	town    *payTown
	clock   pace
	over    chan struct{} // closed: customers begin nothing new

	mu              sync.Mutex
	at              *process
	kills           int
	past            []string // what was written down when the program was last killed
	record          record
	asked, answered atomic.Int64
	again           atomic.Int64 // requests sent anew: the program was gone or busy
}

// start starts the program, with what else it is told.
func (s *storm) start() {
	s.t.Helper()
	p := &process{}
	p.cmd = exec.Command(os.Args[0], "serve", "--listen", s.address, "--posts-minute", "1000000", "--sign-in-minute", "1000", "--due-every", "200ms", "--log-level", "error")
	p.cmd.Env = append(os.Environ(), reexec+"=1", paceOf+"="+s.clock.String(),
		"FLITCHBOOK_DATABASE="+s.shop.Database, "FLITCHBOOK_SECRET_FILE="+s.shop.SecretFile, "FLITCHBOOK_RULES_FILE="+s.shop.RulesFile,
		"FLITCHBOOK_BASE_URL="+s.shop.BaseURL, "FLITCHBOOK_MAIL_FOLDER="+filepath.Join(s.dir, "mail"),
		"FLITCHBOOK_CHECKOUT_KEY=sk_test_storm", "FLITCHBOOK_CHECKOUT_NOTICE_SECRET="+noticeSecret, "FLITCHBOOK_CHECKOUT_API="+s.town.srv.URL, "FLITCHBOOK_CHECKOUT_PAGES="+payPages)
	p.cmd.Stderr = &p.err
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	// It says where it listens once it does.
	line := make([]byte, 256)
	if n, err := out.Read(line); err != nil || !strings.Contains(string(line[:n]), "is open at") {
		_ = p.cmd.Wait()
		s.t.Fatalf("it does not start: %q %v\n%s", line[:n], err, p.err.String())
	}
	s.mu.Lock()
	s.at = p
	s.mu.Unlock()
}

// kill ends the program without time to tidy up, and holds what it had written down
// against what it had before.
func (s *storm) kill() {
	s.t.Helper()
	if err := s.at.cmd.Process.Kill(); err != nil {
		s.t.Error(err)
	}
	_ = s.at.cmd.Wait() // says that it was killed
	s.kills++
	s.said()
	s.nothingRewritten()
}

// said fails the test for what the program complained of, but for a provider that is away.
func (s *storm) said() {
	for _, line := range strings.Split(s.at.err.String(), "\n") {
		usual := strings.Contains(line, checkout.ErrAway.Text) || strings.Contains(line, "status=503")
		if strings.Contains(line, "level=ERROR") && !usual || strings.Contains(line, "panic") {
			s.t.Errorf("the program said: %s", line)
		}
	}
}

// TestStorm: customers book, pay at the counter and online, bring vouchers and credits, move,
// leave, wait and take offers, all at once; the payment provider fails, is slow, loses its
// answers and tells twice, late, in the wrong order, or not at all; the program is killed every
// few seconds and started again. Nothing it said yes to is lost, nothing is doubled, no class
// is oversold, every cent is where it belongs here and at the provider, and every message due
// is sent once.
func TestStorm(t *testing.T) {
	lasts, customers := 7*time.Second, 32
	if typed := os.Getenv(stormLasts); typed != "" {
		d, err := time.ParseDuration(typed)
		if err != nil {
			t.Fatalf("%s=%s: %v", stormLasts, typed, err)
		}
		lasts, customers = d, 64
	}
	seed := uint64(7)
	if typed := os.Getenv(stormSeed); typed != "" {
		n, err := strconv.ParseUint(typed, 10, 64)
		if err != nil {
			t.Fatalf("%s=%s: %v", stormSeed, typed, err)
		}
		seed = n
	}
	each(t, func(t *testing.T, fresh func() string) {
		ctx, cancel := context.WithTimeout(t.Context(), lasts+5*time.Minute)
		defer cancel()
		tr := &http.Transport{MaxIdleConnsPerHost: 2 * customers}
		defer tr.CloseIdleConnections()
		s := openStorm(t, fresh(), &http.Client{Transport: tr, Timeout: 15 * time.Second,
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }})
		opened := time.Now()
		codes := s.furnish(ctx, customers)
		if time.Since(opened) > 5*time.Second {
			s.clock = s.clock.slower(4) // or every hold ends before a slow machine gets round to it
		}
		s.town.faults = &townFaults{r: rand.New(rand.NewPCG(seed, 1)), shop: s.shop.BaseURL, client: s.client, ctx: ctx, done: map[string]int{}, hurry: make(chan struct{})}
		s.start()
		for _, who := range []string{"nadia", "odile"} {
			s.signIn(ctx, who)
		}
		began := time.Now()
		done := make(chan struct{})
		go func() {
			defer close(done)
			var all sync.WaitGroup
			for n := range customers {
				c := &customer{storm: s, n: n, r: rand.New(rand.NewPCG(seed, uint64(100+n))), classes: codes}
				all.Go(func() { c.live(ctx) })
			}
			all.Wait()
		}()
		r := rand.New(rand.NewPCG(seed, 2))
		for time.Since(began) < lasts || time.Since(began) < lasts+3*time.Minute && !s.enough() {
			quiet, answers := time.Duration(2000+r.IntN(2000))*time.Millisecond, int64(100)
			if r.IntN(5) == 0 {
				quiet, answers = time.Duration(50+r.IntN(300))*time.Millisecond, 0 // it has hardly begun
			}
			// A slow machine needs longer than that to get anywhere.
			before, since := s.answered.Load(), time.Now()
			for time.Since(since) < quiet || s.answered.Load() < before+answers && time.Since(since) < 20*time.Second {
				s.town.forge()
				time.Sleep(100 * time.Millisecond)
			}
			s.kill()
			s.start()
		}
		close(s.over)
		<-done
		stormed := time.Since(began).Round(100 * time.Millisecond)
		calm := time.Now()
		s.settle(ctx)
		rested := time.Now()
		s.afterwards(stormed, customers)
		t.Logf("%s to make the shop, %s until all was quiet, %s to look", began.Sub(opened).Round(time.Millisecond), rested.Sub(calm).Round(time.Millisecond), time.Since(rested).Round(time.Millisecond))
	})
}

// enough says whether so much has happened that the test proves something.
func (s *storm) enough() bool { return len(s.tooLittle()) == 0 }

func (s *storm) tooLittle() (of []string) {
	s.record.Lock()
	defer s.record.Unlock()
	for _, what := range []string{"booked", "waiting", "paid at the counter", "paid online", "left", "moved", "offer taken", "voucher at the counter", "credit in hand"} {
		if s.record.did[what] == 0 {
			of = append(of, what)
		}
	}
	wrong := s.town.wentWrong()
	for _, what := range []string{"503", "slow answer", "answer lost", "notice doubled", "notice lost", "notice late", "notices out of order", "notice forged"} {
		if wrong[what] == 0 {
			of = append(of, what)
		}
	}
	if s.kills < 2 {
		of = append(of, "kills")
	}
	return of
}

func openStorm(t *testing.T, database string, client *http.Client) *storm {
	t.Helper()
	dir := t.TempDir()
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := free.Addr().String()
	free.Close()
	// No shop has so many chairs, racks and hooks; the storm wants them. An offer stands an
	// hour, which is a quarter of a minute here; holds stand as the house has it.
	rules := filepath.Join(dir, "rules.json")
	if err := os.WriteFile(rules, []byte(`{"table_seats":0,"teachers":0,"rest_places":0,"rack_places":5000,"hooks":5000,"bottom_row":5000,"offer_hours":1,"offer_hours_late":1}`), 0o600); err != nil {
		t.Fatal(err)
	}
	s := &storm{t: t, dir: dir, address: address, client: client, cookie: map[string]string{}, over: make(chan struct{}), record: newRecord(),
		shop: shopConfig{databaseConfig: databaseConfig{database}, SecretFile: filepath.Join(dir, "secret"), BaseURL: "http://" + address, RulesFile: rules}}
	// Mon Oct 5 2026, 10:00 in Chicago; a second is four minutes.
	s.clock = pace{from: time.Now().UnixNano(), at: time.Date(2026, 10, 5, 15, 0, 0, 0, time.UTC).UnixNano(), times: 240}
	s.town = openPayTown(t)
	s.town.now = func() time.Time { return s.clock.now() }
	return s
}

// furnish makes the shop and puts six classes on sale, in every tier of the leaving rule
// (R4), the first five with fewer seats than the customers want.
func (s *storm) furnish(ctx context.Context, customers int) []string {
	s.t.Helper()
	st := s.open()
	if err := st.Furnish(ctx, keeper, scenario.Shop()); err != nil {
		s.t.Fatal(err)
	}
	for login, role := range map[string]shop.Role{"nadia": shop.Staff, "odile": shop.Owner} {
		if _, err := st.AddAccount(ctx, keeper, shop.NewAccount{Login: login, Name: login, Role: role, Password: testPassword}); err != nil {
			s.t.Fatal(err)
		}
	}
	var codes []string
	for i, c := range []struct {
		kind        string
		days, seats int
	}{{"pig", 3, 30}, {"bacon", 5, 24}, {"pig", 10, 40}, {"lamb", 12, 30}, {"bacon", 19, 40}, {"pig", 45, 200}} {
		code := fmt.Sprintf("S%d", i+1)
		starts := unit.InstantOf(s.clock.now().Add(time.Duration(c.days)*24*time.Hour + 8*time.Hour))
		if _, err := st.AddClass(ctx, keeper, shop.NewClass{Code: code, Kind: c.kind, StartsAt: starts, Seats: c.seats * customers / 64, MinSeats: -1, DemoSlabs: -1}); err != nil {
			s.t.Fatal(err)
		}
		codes = append(codes, code)
	}
	if err := st.Close(); err != nil {
		s.t.Fatal(err)
	}
	// Publishing would ask for the meat of so many seats.
	db := s.behind()
	defer db.Close()
	if _, err := db.ExecContext(ctx, "UPDATE classes SET state = 'open'"); err != nil {
		s.t.Fatal(err)
	}
	return codes
}

// open opens the same records beside the program.
func (s *storm) open() *store.Store {
	s.t.Helper()
	st, err := openStore(s.t.Context(), s.shop, s.clock.now, randomBytes, slog.New(slog.DiscardHandler))
	if err != nil {
		s.t.Fatal(err)
	}
	return st
}

// behind opens the database past the store, to look.
func (s *storm) behind() *sql.DB {
	s.t.Helper()
	driver, address := "pgx", s.shop.Database
	if file := s.shop.sqliteFile(); file != "" {
		driver, address = "sqlite3", "file:"+file+"?_busy_timeout=10000"
	}
	db, err := sql.Open(driver, address)
	if err != nil {
		s.t.Fatal(err)
	}
	return db
}

func (s *storm) signIn(ctx context.Context, who string) {
	s.t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.shop.BaseURL+"/api/v1/session", strings.NewReader(`{"login":"`+who+`","password":"`+testPassword+`"}`))
	if err != nil {
		s.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := s.client.Do(req)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	cookie, _, _ := strings.Cut(res.Header.Get("Set-Cookie"), ";")
	if res.StatusCode != http.StatusOK || cookie == "" {
		s.t.Fatal(res.Status)
	}
	s.cookie[who] = cookie
}

// A reply is what the program answered in the end.
type reply struct {
	status int
	code   string // of a no, for programs
	to     string // where it leads
	body   []byte
}

// ask sends a request until it is answered: a customer whose page does not come presses the
// button again. The key makes that harmless. who has signed in; "" is a customer.
func (s *storm) ask(ctx context.Context, who, method, path, key, body string) (reply, error) {
	kind := "application/json"
	if strings.HasPrefix(key, "form ") {
		kind, key = "application/x-www-form-urlencoded", ""
	}
	s.asked.Add(1)
	for wait := 20 * time.Millisecond; ; wait = min(2*wait, 500*time.Millisecond) {
		req, err := http.NewRequestWithContext(ctx, method, s.shop.BaseURL+path, strings.NewReader(body))
		if err != nil {
			return reply{}, err
		}
		req.Header.Set("Content-Type", kind)
		if key != "" {
			req.Header.Set("Idempotency-Key", key)
		}
		if who != "" {
			req.Header.Set("Cookie", s.cookie[who])
		}
		res, err := s.client.Do(req)
		if err == nil {
			out := reply{status: res.StatusCode, to: res.Header.Get("Location")}
			out.body, err = io.ReadAll(res.Body)
			res.Body.Close()
			var no struct{ Code string }
			if out.status >= 400 {
				_ = json.Unmarshal(out.body, &no) // a page has no code
				out.code = no.Code
			}
			// 503 is stopping or busy, unless it speaks of the provider; "stale": the first
			// press is being done.
			busy := out.status == http.StatusServiceUnavailable && out.code != "provider_away" && kind == "application/json" || out.code == "stale"
			switch {
			case err != nil || busy:
			case out.status >= 500 && out.status != http.StatusServiceUnavailable:
				return out, fmt.Errorf("%s %s: %d %s", method, path, out.status, out.body)
			default:
				s.answered.Add(1)
				return out, nil
			}
		}
		s.again.Add(1)
		select {
		case <-ctx.Done():
			return reply{}, fmt.Errorf("%s %s: never answered: %w", method, path, ctx.Err())
		case <-time.After(wait): // a finger needs longer
		}
	}
}

// settle ends the storm: the provider works again and tells what it still has to tell; the
// program is started on the next afternoon, when every hold and page has ended, and does
// what is due. Then it is stopped the gentle way.
func (s *storm) settle(ctx context.Context) {
	s.t.Helper()
	s.kill()
	s.clock.at += int64(26 * time.Hour)
	s.town.endPages()
	s.start()
	s.town.calmDown()
	db := s.behind()
	defer db.Close()
	// A message or refund that was being sent when the program was killed is free again
	// when its lease of two minutes ends: in half a second here.
	waits := map[string]string{
		"messages that are due":  "SELECT count(*) FROM notices WHERE state = 'waiting to send' AND due_at <= %d",
		"holds that have ended":  "SELECT count(*) FROM bookings WHERE state = 'held' AND %d > 0",
		"refunds":                "SELECT count(*) FROM refunds WHERE state IN ('waiting', 'sent') AND %d > 0",
		"checkouts without word": "SELECT count(*) FROM checkouts WHERE state IN ('new', 'open') AND %d > 0",
	}
	for {
		s.owner(ctx, db)
		var left []string
		for what, query := range waits {
			var n int
			if err := db.QueryRowContext(ctx, fmt.Sprintf(query, s.clock.now().Unix())).Scan(&n); err != nil {
				s.t.Fatal(err)
			}
			if n > 0 {
				left = append(left, fmt.Sprintf("%d %s", n, what))
			}
		}
		if len(left) == 0 {
			break
		}
		select {
		case <-ctx.Done():
			s.t.Fatalf("it does not come to rest: %v\n%s", left, s.at.err.String())
		case <-time.After(50 * time.Millisecond):
		}
	}
	if err := s.at.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		s.t.Fatal(err)
	}
	if err := s.at.cmd.Wait(); err != nil {
		s.t.Errorf("stopped badly: %v\n%s", err, s.at.err.String())
	}
	s.said()
	s.nothingRewritten()
}

// owner tries every refund again that failed.
func (s *storm) owner(ctx context.Context, db *sql.DB) {
	for _, id := range ints(s.t, db, "SELECT id FROM refunds WHERE state = 'failed'") {
		if r, err := s.ask(ctx, "odile", http.MethodPost, fmt.Sprintf("/owner/refunds/%d", id), "form ", "how=again"); err != nil || r.status != http.StatusSeeOther {
			s.t.Errorf("trying refund %d again: %d %v", id, r.status, err)
		}
	}
}

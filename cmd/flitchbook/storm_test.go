package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	netmail "net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// each runs a test on SQLite and on PostgreSQL; fresh is the address of a new database.
func each(t *testing.T, test func(t *testing.T, fresh func() string)) {
	t.Run("sqlite", func(t *testing.T) {
		test(t, func() string { return "sqlite:" + filepath.Join(t.TempDir(), "shop.db") })
	})
	t.Run("postgres", func(t *testing.T) {
		first := storetest.PostgresURL(t) // skips at once where there is no server
		test(t, func() string {
			url := first
			if first = ""; url == "" {
				url = storetest.PostgresURL(t)
			}
			return url
		})
	})
}

// sell puts clinics on sale, each with so many seats.
func sell(t *testing.T, st *store.Store, seats ...int) []string {
	t.Helper()
	var codes []string
	for i, n := range seats {
		code := fmt.Sprintf("S%d", i+1)
		starts := unit.InstantOf(st.Now().Time().Add(time.Duration(40+7*i) * 24 * time.Hour))
		if _, err := st.AddClass(t.Context(), keeper, shop.NewClass{Code: code, Kind: "pig", StartsAt: starts, Seats: n, MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		if err := st.Publish(t.Context(), keeper, code); err != nil {
			t.Fatal(err)
		}
		codes = append(codes, code)
	}
	return codes
}

// A booked is what the program answered about a booking.
type booked struct {
	Number int    `json:"number"`
	Link   string `json:"link"`
	State  string `json:"state"`
	Places int    `json:"places"`
	Paid   string `json:"paid"`
	DueNow string `json:"due_now"`
}

func bookBody(who string, people int) string {
	p := strings.TrimSuffix(strings.Repeat(`{},`, people), ",")
	return fmt.Sprintf(`{"name":%q,"email":"%s@post.example.test","people":[%s]}`, who, who, p)
}

// TestSixtyBuyersForTwelveSeats: the last seats of a class go to so many and no more,
// whoever presses first, and everybody else is told in plain words.
func TestSixtyBuyersForTwelveSeats(t *testing.T) {
	each(t, func(t *testing.T, fresh func() string) {
		for _, tc := range []struct{ seats, buyers int }{{12, 60}, {2, 200}} {
			c := defaults()
			c.PostsMinute = 1_000_000
			h := openHouse(t, fresh(), c, nil)
			code := sell(t, h.Store, tc.seats)[0]
			tr := &http.Transport{MaxIdleConnsPerHost: tc.buyers}
			defer tr.CloseIdleConnections()
			client := &http.Client{Transport: tr, Timeout: 30 * time.Second}
			var got [600]atomic.Int64
			var all sync.WaitGroup
			for i := range tc.buyers {
				all.Go(func() {
					res, err := client.Post(h.URL+"/api/v1/classes/"+code+"/bookings", "application/json", strings.NewReader(bookBody(fmt.Sprintf("buyer%d", i), 1)))
					if err != nil {
						t.Error(err)
						return
					}
					defer res.Body.Close()
					if _, err := io.Copy(io.Discard, res.Body); err != nil {
						t.Error(err)
					}
					got[res.StatusCode].Add(1)
				})
			}
			all.Wait()
			sold, refused := got[http.StatusOK].Load(), got[http.StatusConflict].Load()
			if int(sold) != tc.seats || int(refused) != tc.buyers-tc.seats {
				t.Errorf("%d seats, %d buyers: %d sold, %d told no", tc.seats, tc.buyers, sold, refused)
			}
			sound(t, h.Store)
		}
	})
}

func sound(t *testing.T, st *store.Store) {
	t.Helper()
	found, err := st.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		if len(f.Broken) > 0 {
			t.Errorf("%s: %v", f.Rule, f.Broken)
		}
	}
}

// A process is the program as a process of its own, so that it can be killed.
type process struct {
	cmd *exec.Cmd
	err bytes.Buffer
}

// A storm is many customers at once on a program that is killed while they book.
type storm struct {
	t       *testing.T
	shop    shopConfig
	dir     string
	address string
	client  *http.Client
	cookie  string // of the counter

	mu     sync.Mutex
	at     *process
	sold   map[int]booked // every booking the program said is firm, by number
	held   map[int]booked // and every one it said is held
	kills  int
	answer chan struct{} // one for each 2xx: what the killer counts
}

func (s *storm) start() {
	s.t.Helper()
	p := &process{}
	p.cmd = exec.Command(os.Args[0], "serve", "--listen", s.address, "--posts-minute", "1000000", "--sign-in-minute", "1000", "--due-every", "200ms", "--log-level", "error")
	p.cmd.Env = append(os.Environ(), reexec+"=1",
		"FLITCHBOOK_DATABASE="+s.shop.Database, "FLITCHBOOK_SECRET_FILE="+s.shop.SecretFile,
		"FLITCHBOOK_BASE_URL="+s.shop.BaseURL, "FLITCHBOOK_MAIL_FOLDER="+filepath.Join(s.dir, "mail"))
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

func (s *storm) kill() {
	s.mu.Lock()
	p := s.at
	s.kills++
	s.mu.Unlock()
	if err := p.cmd.Process.Kill(); err != nil { // SIGKILL: no time to tidy up
		s.t.Error(err)
	}
	_ = p.cmd.Wait() // says that it was killed
}

// ask sends a request until it is answered: a customer whose page does not come presses
// the button again. The key makes that harmless.
func (s *storm) ask(ctx context.Context, method, path, key, body string, out any) (int, error) {
	for {
		req, err := http.NewRequestWithContext(ctx, method, s.shop.BaseURL+path, strings.NewReader(body))
		if err != nil {
			return 0, err
		}
		req.Header.Set("Content-Type", "application/json")
		if key != "" {
			req.Header.Set("Idempotency-Key", key)
		}
		if strings.Contains(path, "/payments") {
			req.Header.Set("Cookie", s.cookie)
		}
		res, err := s.client.Do(req)
		if err == nil {
			var b []byte
			b, err = io.ReadAll(res.Body)
			res.Body.Close()
			// 503: it is stopping or busy; 409 with "stale": the first press is being done.
			if err == nil && res.StatusCode != http.StatusServiceUnavailable && !(res.StatusCode == http.StatusConflict && strings.Contains(string(b), `"stale"`)) {
				if res.StatusCode == http.StatusOK {
					err = json.Unmarshal(b, out)
				} else if res.StatusCode != http.StatusConflict {
					err = fmt.Errorf("%s %s: %d %s", method, path, res.StatusCode, b)
				}
				return res.StatusCode, err
			}
		}
		select {
		case <-ctx.Done():
			return 0, errors.Join(ctx.Err(), err)
		case <-time.After(20 * time.Millisecond): // a finger needs longer
		}
	}
}

// customer books and pays at random, with a seed of its own.
func (s *storm) customer(ctx context.Context, n, parties int, codes []string) {
	r := rand.New(rand.NewPCG(7, uint64(n)))
	for i := range parties {
		who := fmt.Sprintf("c%dp%d", n, i)
		body := bookBody(who, 1+r.IntN(3))
		var b booked
		status, err := s.ask(ctx, http.MethodPost, "/api/v1/classes/"+codes[r.IntN(len(codes))]+"/bookings", "book/"+who, body, &b)
		if err != nil {
			s.t.Error(err)
			return
		}
		if status != http.StatusOK {
			continue // full: told so
		}
		s.answer <- struct{}{}
		s.mu.Lock()
		if _, twice := s.held[b.Number]; twice {
			s.t.Errorf("booking %d was given to two parties", b.Number)
		}
		s.held[b.Number] = b
		s.mu.Unlock()
		if r.IntN(5) == 0 {
			continue // walks away from the till
		}
		var paid booked
		status, err = s.ask(ctx, http.MethodPost, fmt.Sprintf("/api/v1/bookings/%d/payments", b.Number), "pay/"+who, fmt.Sprintf(`{"amount":%q,"method":"cash"}`, b.DueNow), &paid)
		if err != nil || status != http.StatusOK {
			s.t.Errorf("paying for %d: %d %v", b.Number, status, err)
			return
		}
		s.answer <- struct{}{}
		s.mu.Lock()
		s.sold[b.Number] = paid
		s.mu.Unlock()
	}
}

// TestStorm: 32 customers book and pay, the program is killed three times while they do and
// started again. No booking it said yes to is lost, none is doubled, no class is
// oversold, every message due is sent once, and everything that must hold still does.
func TestStorm(t *testing.T) {
	each(t, func(t *testing.T, fresh func() string) {
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
		defer cancel()
		dir := t.TempDir()
		free, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		address := free.Addr().String()
		free.Close()
		const customers, parties = 32, 12
		tr := &http.Transport{MaxIdleConnsPerHost: customers}
		defer tr.CloseIdleConnections()
		s := &storm{t: t, dir: dir, address: address, client: &http.Client{Transport: tr, Timeout: 10 * time.Second},
			shop: shopConfig{databaseConfig: databaseConfig{fresh()}, SecretFile: filepath.Join(dir, "secret"), BaseURL: "http://" + address},
			sold: map[int]booked{}, held: map[int]booked{}, answer: make(chan struct{}, 2*customers*parties)}
		st := s.open()
		if err := st.Furnish(ctx, keeper, scenario.Shop()); err != nil {
			t.Fatal(err)
		}
		if _, err := st.AddAccount(ctx, keeper, shop.NewAccount{Login: "nadia", Name: "Nadia", Role: shop.Staff, Password: testPassword}); err != nil {
			t.Fatal(err)
		}
		seats := []int{100, 100, 80, 80, 60, 40}
		st.Rules.TableSeats = 0 // no shop has a hundred chairs; the storm wants them
		codes := sell(t, st, seats...)
		if err := st.Close(); err != nil {
			t.Fatal(err)
		}

		s.start()
		s.signIn(ctx)
		done := make(chan struct{})
		go func() {
			defer close(done)
			var all sync.WaitGroup
			for n := range customers {
				all.Go(func() { s.customer(ctx, n, parties, codes) })
			}
			all.Wait()
		}()
		for _, more := range []int{40, 110, 200} {
			for range more {
				select {
				case <-s.answer:
				case <-done:
				}
			}
			s.kill()
			s.start()
		}
		<-done
		if t.Failed() {
			s.kill()
			return
		}
		s.settle(ctx)
		s.afterwards()
	})
}

// open opens the same records beside the program.
func (s *storm) open() *store.Store {
	s.t.Helper()
	st, err := openStore(s.t.Context(), s.shop, time.Now, randomBytes, slog.New(slog.DiscardHandler))
	if err != nil {
		s.t.Fatal(err)
	}
	return st
}

// behind opens the database past the store, to look and to end leases.
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

func (s *storm) signIn(ctx context.Context) {
	s.t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.shop.BaseURL+"/api/v1/session", strings.NewReader(`{"login":"nadia","password":"`+testPassword+`"}`))
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
	s.cookie = cookie
}

// settle waits until nothing that is due is still to be sent, then stops the program
// the gentle way. A message that was being sent when the program was killed is free
// again only when its lease of two minutes ends; the records are told that it has.
func (s *storm) settle(ctx context.Context) {
	s.t.Helper()
	db := s.behind()
	defer db.Close()
	if _, err := db.ExecContext(ctx, "UPDATE notices SET leased_until = 0 WHERE state = 'waiting to send'"); err != nil {
		s.t.Fatal(err)
	}
	for {
		var n int
		if err := db.QueryRowContext(ctx, fmt.Sprintf("SELECT count(*) FROM notices WHERE state = 'waiting to send' AND due_at <= %d", time.Now().Unix())).Scan(&n); err != nil {
			s.t.Fatal(err)
		}
		if n == 0 {
			break
		}
		select {
		case <-ctx.Done():
			s.t.Fatalf("%d messages that are due are not sent\n%s", n, s.at.err.String())
		case <-time.After(20 * time.Millisecond):
		}
	}
	if err := s.at.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		s.t.Fatal(err)
	}
	if err := s.at.cmd.Wait(); err != nil {
		s.t.Errorf("stopped badly: %v\n%s", err, s.at.err.String())
	}
}

func (s *storm) afterwards() {
	t := s.t
	t.Helper()
	st := s.open()
	defer st.Close()
	sound(t, st)
	for number, want := range s.sold {
		v, err := st.BookingByNumber(t.Context(), number)
		if err != nil {
			t.Errorf("a booking paid for is lost: %d: %v", number, err)
			continue
		}
		if v.State != shop.Firm || v.Paid.String() != want.Paid || v.Places != want.Places || want.State != string(shop.Firm) {
			t.Errorf("K%d: %s, %d places, %v paid; the program had said %+v", number, v.State, v.Places, v.Paid, want)
		}
	}
	db := s.behind()
	defer db.Close()
	var stand, keys int
	if err := db.QueryRowContext(t.Context(), "SELECT (SELECT count(*) FROM bookings), (SELECT count(DISTINCT payer_email) FROM bookings)").Scan(&stand, &keys); err != nil {
		t.Fatal(err)
	}
	if stand != len(s.held) || keys != stand {
		t.Errorf("%d bookings of %d parties stand in the records, %d were answered", stand, keys, len(s.held))
	}
	taken, cards := 0, 0
	page, err := st.SeasonPage(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range page.Classes {
		taken, cards = taken+c.Taken, cards+1
		if c.Taken > c.Seats {
			t.Errorf("%s: %d of %d seats", c.Code, c.Taken, c.Seats)
		}
	}
	places := 0
	for _, b := range s.held {
		places += b.Places
	}
	if cards != 6 || taken != places {
		t.Errorf("%d seats are taken in %d classes; %d were answered", taken, cards, places)
	}

	// One confirmation for each paid booking, and no Message-ID twice.
	files, err := filepath.Glob(filepath.Join(s.dir, "mail", "*.eml"))
	if err != nil {
		t.Fatal(err)
	}
	ids, to := map[string]string{}, map[string]int{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		m, err := netmail.ReadMessage(bytes.NewReader(b))
		if err != nil {
			t.Fatalf("%s: %v", f, err)
		}
		id := m.Header.Get("Message-Id")
		if was, twice := ids[id]; id == "" || twice {
			t.Errorf("%s and %s have the Message-ID %q", f, was, id)
		}
		ids[id] = f
		to[m.Header.Get("To")]++
	}
	confirmed := 0
	for who, n := range to {
		if n != 1 {
			t.Errorf("%s got %d messages", who, n)
		}
		confirmed++
	}
	if confirmed != len(s.sold) {
		t.Errorf("%d parties paid, %d got a confirmation", len(s.sold), confirmed)
	}
	left, err := filepath.Glob(filepath.Join(s.dir, "mail", ".writing-*"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bookings, %d paid, %d messages, %d kills", len(s.held), len(s.sold), len(files), s.kills)
	if len(left) > 0 {
		t.Errorf("killed programs left %v behind: what they wrote was sent again, and half a file stayed", left)
	}
	if len(s.sold) < 100 || s.kills != 3 {
		t.Errorf("too little happened to prove anything: %d paid", len(s.sold))
	}
}

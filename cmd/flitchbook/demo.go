package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/frontend"
	"flitchbook/mail"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// demoCmd opens the invented shop on a temporary database.
type demoCmd struct {
	Listen string `default:"127.0.0.1:8080" help:"Address and port to listen on; this machine only." placeholder:"ADDRESS"`
	At     string `default:"2026-10-20 20:00" help:"Moment of the invented story to begin at, on the shop's clocks." placeholder:"MOMENT"`
	Dir    string `help:"Folder for the database and the mails. None: a temporary one, gone afterwards." placeholder:"DIR"`
	Log    string `default:"warn" enum:"debug,info,warn,error" help:"Least weight of a line that is logged."`
}

// demoPassword lets a visitor in as any of the invented people. The demo listens on this
// machine alone.
const demoPassword = "salt-and-smoke"

// demoHandling stands where a shop puts the wording of its regulation, word for word.
const demoHandling = "DEMONSTRATION, NOT FOOD. Here stand the safe-handling instructions as the shop's authority words them: heading, storing, keeping apart, cooking, leftovers."

// turns are the moments of the story worth a visit.
var turns = []struct{ at, text string }{
	{"2026-09-14 09:30", "The first order of the season is due: the meat sheet says how many pigs, and why."},
	{"2026-10-08 15:25", "Thursday's delivery is about to be weighed, and the second pig hangs light."},
	{"2026-10-09 12:00", "B1's slabs are cut: kit list, class sheet and bag labels can be printed."},
	{"2026-10-10 14:35", "B1's people are at the table: the bench weighs and seals."},
	{"2026-10-14 09:40", "Somebody lets a seat go three days before; the waiting list gets an offer."},
	{"2026-10-20 20:00", "Two seats are left in B5, at the new price. 23 slabs lie in the cooler, and it was too cold."},
	{"2026-10-22 08:15", "One of four pigs was condemned: two slabs short, and ways out."},
	{"2026-10-27 09:00", "The first slabs hang in the smoke."},
	{"2026-10-28 15:30", "Scanned onto the shelf, and told."},
	{"2026-11-06 09:00", "Fifteen slabs for sixteen hooks, and one party that waits."},
	{"2026-11-08 09:00", "The cooler door stood open in the night; 22 slabs are on hold."},
	{"2026-11-14 15:30", "A packet that nobody will fetch."},
	{"2026-11-28 18:30", "It goes to the freezer."},
}

// A demoClock runs like the wall clock from wherever it is set.
type demoClock struct {
	wall  func() time.Time
	ahead atomic.Int64 // nanoseconds
}

func (c *demoClock) Now() time.Time { return c.wall().Add(time.Duration(c.ahead.Load())) }

// Set moves the clock to a moment.
func (c *demoClock) Set(to unit.Instant) { c.ahead.Store(int64(to.Time().Sub(c.wall()))) }

func (c *demoCmd) Run(p *program) error {
	if host, _, err := net.SplitHostPort(c.Listen); err != nil || !isLoopback(host) {
		return badSetting("the demo lets everybody in with a known password, so it listens on this machine alone, such as 127.0.0.1:8080, not on %q", c.Listen)
	}
	dir := c.Dir
	if dir == "" {
		var err error
		if dir, err = os.MkdirTemp("", "flitchbook-demo-"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	if _, err := os.Stat(filepath.Join(dir, "demo.db")); err == nil {
		return badSetting("there is a demo in %s already; name an empty folder", dir)
	}
	mails, err := filepath.Abs(filepath.Join(dir, "mail"))
	if err != nil {
		return err
	}
	began := p.now()
	clock := &demoClock{wall: p.now}
	where := shopConfig{databaseConfig: databaseConfig{Database: "sqlite:" + filepath.Join(dir, "demo.db")}, SecretFile: filepath.Join(dir, "secret"),
		BaseURL: "http://" + c.Listen, Domain: "corbel.example.test", ShopName: scenario.Shop().Name, ShopMail: "odile@corbel.example.test", LogLevel: c.Log, LogFormat: "text"}
	log := where.logger(p.err)
	st, err := openStore(p.ctx, where, clock.Now, p.random, log)
	if err != nil {
		return err
	}
	defer st.Close()
	st.Rules.Handling, st.Rules.Variance = demoHandling, "V-26-014"
	send, err := demoSender(p.ctx, st, mails)
	if err != nil {
		return err
	}
	player, err := c.play(p.ctx, st, clock, send, p)
	if err != nil {
		return err
	}
	demo := &frontend.Demo{Move: player.To, Moments: func() []frontend.DemoMoment { return momentsAhead(st) }, Password: demoPassword, MailDir: mails}
	for _, a := range scenario.Shop().Accounts {
		demo.People = append(demo.People, frontend.DemoPerson{Login: a.Login, Name: a.Name, Role: string(a.Role)})
	}
	serve := serveConfig{Listen: c.Listen, BodyLimit: 2, RequestTime: 2 * time.Minute, SessionTime: 24 * time.Hour, PostsMinute: 600, SignInMinute: 60,
		DueEvery: 2 * time.Second, StopTime: 5 * time.Second}
	srv, err := startServer(p.ctx, serve, st, p.now, send, log, asDemo(demo))
	if err != nil {
		return err
	}
	running, stop := context.WithCancel(p.ctx)
	var live sync.WaitGroup
	live.Go(func() { goOn(running, st, player) })
	defer live.Wait()
	defer stop()
	c.greet(p, st, srv.Addr, mails, p.now().Sub(began))
	return srv.Wait(p.ctx)
}

// demoSender writes mails into a folder.
func demoSender(ctx context.Context, st *store.Store, dir string) (sender, error) {
	c := mailConfig{MailFolder: dir, MailFrom: "shop@corbel.example.test", ShopPlace: scenario.Shop().Place, ShopAddress: scenario.Shop().Street}
	h, err := c.house(ctx, st)
	if err != nil {
		return nil, err
	}
	return mail.Deliverer(h, mail.Folder{Dir: dir}), h.Check()
}

// play furnishes the shop and tells its story up to the moment asked for.
func (c *demoCmd) play(ctx context.Context, st *store.Store, clock *demoClock, send sender, p *program) (*story.Player, error) {
	player, err := story.Begin(&story.Player{Store: st, Clock: clock, Send: send, Log: c.storyLog(p)})
	if err != nil {
		return nil, err
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", c.At, st.Loc)
	if err != nil {
		return nil, badSetting("the moment %q should be written like 2026-10-20 20:00", c.At)
	}
	clock.Set(player.First().Add(-time.Hour))
	owner := shop.Actor{Kind: "staff", ID: 1, Name: "Odile", Role: shop.Owner}
	if err := st.Furnish(ctx, owner, scenario.Shop()); err != nil {
		return nil, err
	}
	for _, a := range scenario.Shop().Accounts {
		if _, err := st.AddAccount(ctx, owner, shop.NewAccount{Login: a.Login, Name: a.Name, Role: a.Role, Under18: a.Under18, Password: demoPassword}); err != nil {
			return nil, err
		}
	}
	fmt.Fprintf(p.out, "Telling the story of %s up to %s …\n", scenario.Shop().Name, c.At)
	err = player.To(ctx, unit.InstantOf(at))
	if e, ok := shop.AsError(err); ok {
		return nil, badSetting("%s", e.Text)
	}
	return player, err
}

// goOn tells the story on as the clock runs.
func goOn(ctx context.Context, st *store.Store, player *story.Player) {
	tick := time.NewTicker(5 * time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		err := player.To(ctx, st.Now())
		if _, ok := shop.AsError(err); err != nil && !ok && ctx.Err() == nil {
			st.LogFault("the story", err) // a shop.Error here: somebody moved the clock meanwhile
		}
	}
}

func momentsAhead(st *store.Store) []frontend.DemoMoment {
	var out []frontend.DemoMoment
	for _, m := range turns {
		t, err := time.ParseInLocation("2006-01-02 15:04", m.at, st.Loc)
		if at := unit.InstantOf(t); err == nil && at > st.Now() {
			out = append(out, frontend.DemoMoment{At: at, Text: m.text})
		}
	}
	return out
}

func (c *demoCmd) greet(p *program, st *store.Store, addr, mails string, took time.Duration) {
	base := "http://" + addr
	fmt.Fprintf(p.out, "\n%s, an invented shop, is open after %.1f s. It is %s there.\n\n", st.Config.Shop, took.Seconds(), st.Now().Show(st.Loc))
	for _, l := range [][2]string{
		{"customers", base + "/"}, {"sign in", base + "/login   odile (owner), tobias, nadia, bram (staff), jun (kitchen); password " + demoPassword},
		{"the clock", base + "/demo/clock   or: flitchbook clock \"2026-10-28 15:30\""}, {"public feed", base + "/calendar/public.ics"},
		{"JSON API", base + "/api/openapi.json"}, {"mails", mails},
	} {
		fmt.Fprintf(p.out, "  %-12s %s\n", l[0], l[1])
	}
	fmt.Fprintln(p.out, "\nStop with Ctrl-C; everything is thrown away.")
}

var errNoDemo = errors.New("no demo answers there")

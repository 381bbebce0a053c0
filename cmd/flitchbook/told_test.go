package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/http"
	netmail "net/mail"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitchbook/cmd/flitchbook/story"
	"flitchbook/mail/calendar/calendartest"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// A tale is the program serving the invented shop while its story is told; its messages
// go into a folder.
type tale struct {
	*house
	player *story.Player
	mails  string
}

func openTale(t *testing.T, database string) *tale {
	t.Helper()
	c := defaults()
	c.DueEvery = time.Minute // the player does what falls due
	h := &tale{house: openHouse(t, database, c, nil), mails: filepath.Join(t.TempDir(), "mail")}
	send, err := demoSender(t.Context(), h.Store, h.mails)
	if err != nil {
		t.Fatal(err)
	}
	h.player, err = story.Begin(&story.Player{Store: h.Store, Clock: h.Clock, Strict: true, Send: send})
	if err != nil {
		t.Fatal(err)
	}
	h.Clock.Set(h.player.First())
	return h
}

// until tells the story up to a moment on the shop's clocks.
func (h *tale) until(t *testing.T, moment string) {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", moment, h.Loc)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.player.To(context.Background(), unit.InstantOf(at)); err != nil {
		t.Fatal(err)
	}
}

// path takes the shop's own address off a link.
func (h *tale) path(t *testing.T, link string) string {
	t.Helper()
	u, err := url.Parse(link)
	if err != nil || !strings.HasPrefix(link, h.Config.BaseURL+"/") {
		t.Fatalf("%q is no link of ours: %v", link, err)
	}
	return u.Path
}

// A feed is a calendar as a subscriber has it after asking.
type feed struct {
	file string
	list []calendartest.Event
	by   map[string]calendartest.Event // by UID
}

// subscribe asks for a calendar the way a calendar program does, without a session, and
// has it read by two readers that must agree.
func (h *tale) subscribe(t *testing.T, path string) feed {
	t.Helper()
	res, body := h.visitor(t).get(path)
	if res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %d %s", path, res.StatusCode, body)
	}
	if got := res.Header.Get("Content-Type"); got != "text/calendar; charset=utf-8" {
		t.Errorf("%s is sent as %q", path, got)
	}
	tag := res.Header.Get("ETag")
	again, rest := h.visitor(t).get(path, "If-None-Match", `"other", W/`+tag)
	if tag == "" || again.StatusCode != http.StatusNotModified || rest != "" {
		t.Errorf("%s, asked again with its tag %q: %d and %d bytes", path, tag, again.StatusCode, len(rest))
	}
	f := feed{file: body, list: calendartest.Read(t, []byte(body)), by: map[string]calendartest.Event{}}
	for _, e := range f.list {
		if _, twice := f.by[e.UID]; twice {
			t.Errorf("%s has %s twice", path, e.UID)
		}
		f.by[e.UID] = e
	}
	return f
}

// only finds the one entry whose summary or description has the words.
func (f feed) only(t *testing.T, words string) calendartest.Event {
	t.Helper()
	var found []calendartest.Event
	for _, e := range f.list {
		if strings.Contains(e.Summary+"\n"+e.Description, words) {
			found = append(found, e)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d entries with %q, want 1:\n%s", len(found), words, f.file)
	}
	return found[0]
}

var keyLink = regexp.MustCompile(`class="key" href="([^"]+)"`)

// addresses are the calendar links on a page, in its order.
func (h *tale) addresses(t *testing.T, v *visitor, page string) []string {
	t.Helper()
	res, body := v.get(page)
	if res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %d", page, res.StatusCode)
	}
	var out []string
	for _, m := range keyLink.FindAllStringSubmatch(body, -1) {
		out = append(out, h.path(t, m[1]))
	}
	return out
}

// ownFeed is the calendar a payer finds from their booking's page.
func (h *tale) ownFeed(t *testing.T, number int) string {
	t.Helper()
	b, err := h.BookingByNumber(t.Context(), number)
	if err != nil {
		t.Fatal(err)
	}
	links := h.addresses(t, h.visitor(t), "/b/"+b.Secret+"/calendar")
	if len(links) != 1 {
		t.Fatalf("K%02d is offered %d calendars", number, len(links))
	}
	return links[0]
}

// class finds a class in the staff's or the public feed by its code.
func (f feed) class(t *testing.T, code string) calendartest.Event {
	t.Helper()
	var found []calendartest.Event
	for _, e := range f.list {
		if strings.HasPrefix(e.UID, "class-") && regexp.MustCompile(`\b`+code+`\b`).MatchString(e.Summary+" "+e.Description) {
			found = append(found, e)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d entries of class %s, want 1:\n%s", len(found), code, f.file)
	}
	return found[0]
}

// Daylight time ends on Sun 2026-11-01 at 02:00 in the shop's zone (15 U.S.C. 260a): the
// shop's 14:00 is 19:00 UTC before it and 20:00 UTC after it.
var starts = map[string]string{
	"B3": "2026-10-24T18:00:00Z", "D3": "2026-10-29T23:00:00Z", "B4": "2026-10-31T19:00:00Z",
	"D4": "2026-11-06T00:00:00Z", "B5": "2026-11-07T20:00:00Z", "D5": "2026-11-13T00:00:00Z",
	"B6": "2026-11-14T19:00:00Z", "B7": "2026-11-14T21:30:00Z", "D6": "2026-11-19T00:00:00Z", "B8": "2026-11-21T20:00:00Z",
}

// TestCalendarsFollowTheStory: customers, staff, kitchen, owner and farms see their dates
// in their own calendars over HTTP while the season goes on; a change moves the same
// entry, what is called off stays and says so (RFC 5545, 3.8.7.4 SEQUENCE and 3.8.1.11
// STATUS; RFC 5546, 2.1.4 and 2.1.5), and both readers see the same instants on both
// sides of the clock change.
func TestCalendarsFollowTheStory(t *testing.T) {
	eachDatabase(t, calendarsFollowTheStory)
}

func calendarsFollowTheStory(t *testing.T, database string) {
	h := openTale(t, database)
	h.until(t, "2026-10-05 08:00") // the kill floor's closing is not yet known
	odile, jun := h.signedIn(t, "odile"), h.signedIn(t, "jun")
	hers := h.addresses(t, odile, "/staff/calendars")
	if len(hers) != 8 { // staff, kitchen, owner, four farms, everybody
		t.Fatalf("Odile is offered %d calendars", len(hers))
	}
	staff, kitchen, owner, public := hers[0], hers[1], hers[2], hers[7]
	if juns := h.addresses(t, jun, "/staff/calendars"); len(juns) != 2 || juns[0] == kitchen || juns[1] != public {
		t.Errorf("Jun is offered %q", juns)
	}
	if public != "/calendar/public.ics" {
		t.Errorf("the public calendar is at %s", public)
	}
	leocadia, barnaby := h.ownFeed(t, 52), h.ownFeed(t, 53)
	before := map[string]feed{}
	for _, path := range []string{staff, public, leocadia, barnaby, owner, kitchen} {
		before[path] = h.subscribe(t, path)
	}
	for _, path := range []string{staff, public} {
		if e := before[path].class(t, "D6"); e.Start != "2026-11-20T00:00:00Z" || e.Status != "CONFIRMED" {
			t.Errorf("D6 before it moves: %+v", e)
		}
		if e := before[path].class(t, "D2"); e.Status != "CANCELLED" || e.Sequence == 0 || e.Start != "2026-10-22T23:00:00Z" {
			t.Errorf("D2, called off on Aug 30: %+v", e)
		}
	}

	h.until(t, "2026-10-20 12:30") // it was too cold for thirty hours; nobody has been told
	cold := map[int]feed{}
	party := []int{1, 2, 3, 4, 5, 6} // the six bookings of B1
	for _, k := range party {
		cold[k] = h.subscribe(t, h.ownFeed(t, k))
	}
	h.until(t, "2026-10-20 13:30") // Odile has pressed the button
	for _, k := range party {
		after := h.subscribe(t, h.ownFeed(t, k))
		was, is := cold[k].only(t, "Bacon ready about"), after.only(t, "Bacon ready about")
		if was.Start != "2026-10-24" || is.Start != "2026-10-28" || is.UID != was.UID || is.Sequence != was.Sequence+1 || len(after.list) != len(cold[k].list) {
			t.Errorf("K%02d: was %+v, is %+v", k, was, is)
		}
	}
	h.until(t, "2026-10-20 20:00")
	if e := h.subscribe(t, public).class(t, "B5"); strings.Contains(e.Description, "left") {
		t.Errorf("B5 has 2 seats left, and the public feed says %q", e.Description)
	}

	for _, moment := range []string{"2026-11-02 12:00", "2026-11-05 12:00"} {
		h.until(t, moment)
		now := map[string]feed{}
		for _, path := range []string{staff, public, leocadia, barnaby, owner, kitchen} {
			now[path] = h.subscribe(t, path)
			for uid, was := range before[path].by {
				// An entry may have left 45 days after its day; these are from today on.
				if is, ok := now[path].by[uid]; was.Start > "2026-10-05" && (!ok || is.Sequence < was.Sequence || is.Sequence == was.Sequence && (is.Start != was.Start || is.Status != was.Status)) {
					t.Errorf("%s, %s: was %+v, is %+v", moment, path, was, is)
				}
			}
		}
		for code, start := range starts {
			for _, path := range []string{staff, public} {
				if e := now[path].class(t, code); e.Start != start || e.Status != "CONFIRMED" {
					t.Errorf("%s, %s: %+v, want %s", moment, code, e, start)
				}
			}
		}
		for _, path := range []string{staff, public} {
			if e := now[path].class(t, "D2"); e.Status != "CANCELLED" {
				t.Errorf("%s: D2 does not say that it is called off: %+v", moment, e)
			}
			was, is := before[path].class(t, "D6"), now[path].class(t, "D6")
			if is.UID != was.UID || is.Sequence <= was.Sequence {
				t.Errorf("%s: D6 was %+v, is %+v", moment, was, is)
			}
		}
		if was, is := before[leocadia].only(t, "class D6"), now[leocadia].only(t, "class D6"); is.UID != was.UID || is.Sequence <= was.Sequence || is.Start != starts["D6"] || is.Status != "CONFIRMED" {
			t.Errorf("K52, who comes to the new date: was %+v, is %+v", was, is)
		}
		if was, is := before[barnaby].only(t, "class D6"), now[barnaby].only(t, "class D6"); is.UID != was.UID || is.Sequence <= was.Sequence || is.Status != "CANCELLED" {
			t.Errorf("K53, who took his money back: was %+v, is %+v", was, is)
		}
		if _, moved := now[owner].by["closed-"+dayNumber(t, "2026-11-26")+"@corbel.example.test"]; !moved {
			t.Errorf("%s: the owner's calendar does not show that Nov 26 is closed:\n%s", moment, now[owner].file)
		}
		for _, want := range []string{"Smoke", "Unbag", "Pack"} {
			if !slices.ContainsFunc(now[staff].list, func(e calendartest.Event) bool { return strings.HasPrefix(e.Summary, want) }) {
				t.Errorf("%s: the staff's calendar has no day to %s", moment, strings.ToLower(want))
			}
		}
		if e := now[kitchen].only(t, "D5"); e.Start != starts["D5"] || !strings.HasPrefix(e.Summary, "Dinner for 10") {
			t.Errorf("%s: the kitchen reads %+v", moment, e)
		}
		publicTellsNobody(t, now[public])
		h.farmsSeeTheirOwn(t, hers[3:7])
	}
	h.invitations(t)
	h.shutOut(t, odile, staff)
}

func dayNumber(t *testing.T, s string) string {
	t.Helper()
	d, err := unit.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return strconv.Itoa(int(d))
}

// publicTellsNobody: no name of anybody in the story, no address, no booking, and no
// number of seats below three.
func publicTellsNobody(t *testing.T, f feed) {
	t.Helper()
	names := map[string]bool{}
	for _, a := range scenario.Shop().Accounts {
		names[a.Name] = true
	}
	for _, e := range scenario.Story() {
		for _, n := range append([]string{e.Who, e.Buyer, e.Receiver}, e.Guests...) {
			for word := range strings.FieldsSeq(n) {
				if len(strings.Trim(word, ".")) > 2 { // not "B."
					names[word] = true
				}
			}
		}
	}
	for _, common := range []string{"family", "office", "the", "crossing", "Choir", "Quarry", "Guest"} {
		delete(names, common)
	}
	if len(names) < 60 {
		t.Fatalf("only %d names in the story", len(names))
	}
	text := strings.ReplaceAll(f.file, "\r\n ", "")
	for n := range names {
		if regexp.MustCompile(`\b` + regexp.QuoteMeta(n) + `\b`).MatchString(text) {
			t.Errorf("the public calendar names %s", n)
		}
	}
	for _, bad := range []string{"post.example.test", "ATTENDEE", "ORGANIZER", "Booking", "P2", "P1", "555"} {
		if strings.Contains(text, bad) {
			t.Errorf("the public calendar holds %q", bad)
		}
	}
	said := 0
	for _, m := range regexp.MustCompile(`(\d+) seats? left`).FindAllStringSubmatch(text, -1) {
		said++
		if n, err := strconv.Atoi(m[1]); err != nil || n < 3 {
			t.Errorf("the public calendar says %q", m[0])
		}
	}
	if said == 0 {
		t.Error("the public calendar never says how many seats are left; some classes have many")
	}
}

// farmsSeeTheirOwn: a farm's calendar, from the owner's page or from the farm's own slip,
// has its kills and deliveries and nobody else's.
func (h *tale) farmsSeeTheirOwn(t *testing.T, paths []string) {
	t.Helper()
	seen := map[string]string{}
	entries := 0
	for _, path := range paths {
		for _, e := range h.subscribe(t, path).list {
			entries++
			if other, ok := seen[e.UID]; ok {
				t.Errorf("%s is in two farms' calendars: %s and %s", e.UID, other, path)
			}
			seen[e.UID] = path
			if !strings.HasPrefix(e.UID, "kill-") && !strings.HasPrefix(e.UID, "delivery-") {
				t.Errorf("a farm's calendar has %+v", e)
			}
		}
	}
	if entries < 10 {
		t.Errorf("only %d entries in all farms' calendars", entries)
	}
	number, err := h.OrderNumber(h.ctx(), dayOf("2026-11-04"), "pork")
	if err != nil {
		t.Fatal(err)
	}
	o, err := h.OrderPage(h.ctx(), number)
	if err != nil {
		t.Fatal(err)
	}
	own := h.addresses(t, h.visitor(t), "/o/"+h.OrderSecret(&o.Order)+"/calendar")
	if len(own) != 1 || !slices.Contains(paths, own[0]) {
		t.Fatalf("the farm's slip offers %q", own)
	}
	f := h.subscribe(t, own[0])
	if e := f.by["kill-"+strconv.Itoa(int(o.Order.ID))+"@corbel.example.test"]; e.Start != "2026-11-04" || e.End != "2026-11-05" {
		t.Errorf("the kill of Nov 4: %+v", e)
	}
}

func (h *tale) ctx() context.Context { return context.Background() }

func dayOf(s string) unit.Day {
	d, err := unit.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// invitations: what a confirmation brings along is the very entry the payer's calendar
// and the file to keep have.
func (h *tale) invitations(t *testing.T) {
	t.Helper()
	for _, tc := range []struct {
		number      int
		mail, start string
	}{{28, "nerys", starts["B5"]}, {23, "lowri", starts["B4"]}} {
		b, err := h.BookingByNumber(t.Context(), tc.number)
		if err != nil {
			t.Fatal(err)
		}
		own := h.subscribe(t, h.ownFeed(t, tc.number)).by["booking-class-"+strconv.Itoa(int(b.ID))+"@corbel.example.test"]
		m := h.mailTo(t, tc.mail+"@post.example.test", "You are booked")
		if m.method != "REQUEST" || len(m.events) != 1 {
			t.Fatalf("%s: method %q, %d entries", tc.mail, m.method, len(m.events))
		}
		inv := m.events[0]
		if inv.Method != m.method || inv.UID != own.UID || inv.Sequence != own.Sequence || inv.Start != tc.start || own.Start != tc.start || inv.End != own.End || inv.Status != "CONFIRMED" {
			t.Errorf("%s: invited to %+v, the calendar has %+v", tc.mail, inv, own)
		}
		res, body := h.visitor(t).get("/b/" + b.Secret + "/class.ics")
		if res.StatusCode != http.StatusOK || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/calendar; charset=utf-8") || !strings.Contains(res.Header.Get("Content-Disposition"), "attachment") {
			t.Fatalf("the file to keep: %d %v", res.StatusCode, res.Header)
		}
		file := calendartest.Read(t, []byte(body))
		if len(file) != 1 || file[0].UID != own.UID || file[0].Sequence != own.Sequence || file[0].Start != own.Start || file[0].Method != "PUBLISH" {
			t.Errorf("the file to keep: %+v", file)
		}
	}
	m := h.mailTo(t, "barnaby@post.example.test", "given up")
	if len(m.events) != 1 || m.method != "CANCEL" || m.events[0].Method != "CANCEL" || m.events[0].Status != "CANCELLED" {
		t.Errorf("K53's entry is not taken out by mail: %q %+v", m.method, m.events)
	}
}

// A letter is a message as it lies in the folder or came by the mail server.
type letter struct {
	subject, text, method string
	events                []calendartest.Event
}

// mailTo finds the one message to an address whose subject has the words.
func (h *tale) mailTo(t *testing.T, to, words string) letter {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(h.mails, "*.eml"))
	if err != nil || len(files) == 0 {
		t.Fatal(len(files), err)
	}
	var found []letter
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(raw, []byte("<"+to+">")) {
			continue
		}
		if l := openLetter(t, raw); strings.Contains(l.subject, words) {
			found = append(found, l)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d messages to %s about %q, want 1", len(found), to, words)
	}
	return found[0]
}

// openLetter takes a message apart: its text and the calendar that came with it.
func openLetter(t *testing.T, raw []byte) letter {
	t.Helper()
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil {
		t.Fatal(err)
	}
	l := letter{subject: subject}
	_, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	r := multipart.NewReader(m.Body, params["boundary"])
	for {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return l
		}
		if err != nil {
			t.Fatal(err)
		}
		var body io.Reader = p
		switch p.Header.Get("Content-Transfer-Encoding") {
		case "quoted-printable":
			body = quotedprintable.NewReader(p)
		case "base64":
			body = base64.NewDecoder(base64.StdEncoding, p)
		}
		b, err := io.ReadAll(body)
		if err != nil {
			t.Fatal(err)
		}
		kind, with, err := mime.ParseMediaType(p.Header.Get("Content-Type"))
		if err != nil {
			t.Fatal(err)
		}
		switch kind {
		case "text/plain":
			l.text = string(b)
		case "text/calendar":
			l.method, l.events = with["method"], calendartest.Read(t, b)
		}
	}
}

// shutOut: a guessed address and one that was renewed answer nobody; nobody renews a
// calendar that is not theirs.
func (h *tale) shutOut(t *testing.T, odile *visitor, staff string) {
	t.Helper()
	res, body := odile.get("/staff/calendars")
	m := regexp.MustCompile(`name="kind" value="staff"><input type="hidden" name="subject" value="(\d+)"`).FindStringSubmatch(body)
	if res.StatusCode != http.StatusOK || m == nil {
		t.Fatal(res.StatusCode, body)
	}
	form := url.Values{"kind": {"staff"}, "subject": {m[1]}}
	for _, who := range []string{"tobias", "jun"} {
		if res, _ := h.signedIn(t, who).post("/staff/calendars", form); res.StatusCode != http.StatusForbidden {
			t.Errorf("%s renews Odile's calendar: %d", who, res.StatusCode)
		}
	}
	h.subscribe(t, staff)
	if res, _ := odile.post("/staff/calendars", form); res.StatusCode != http.StatusSeeOther {
		t.Errorf("Odile renews hers: %d", res.StatusCode)
	}
	for _, gone := range []string{staff, "/calendar/abcdefghijkmnpqrstuvwxyz23.ics", strings.TrimSuffix(staff, ".ics"), "/calendar/owner.ics"} {
		if res, body := h.visitor(t).get(gone); res.StatusCode != http.StatusNotFound || strings.Contains(body, "BEGIN:VCALENDAR") {
			t.Errorf("%s: %d", gone, res.StatusCode)
		}
	}
	if fresh := h.addresses(t, odile, "/staff/calendars")[0]; fresh == staff {
		t.Error("the address is the same after it was renewed")
	} else {
		h.subscribe(t, fresh)
	}
}

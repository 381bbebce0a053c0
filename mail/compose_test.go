package mail

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	netmail "net/mail"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"encoding/base64"

	"flitchbook/api/shop"
	"flitchbook/mail/calendar/calendartest"
)

var update = flag.Bool("update", false, "write the goldens of testdata/mail anew; read them before you keep them")

const goldens = "../testdata/mail"

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join(goldens, name)
	if *update {
		if err := os.MkdirAll(goldens, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; with -update it is written anew. Got:\n%s", name, got)
	}
}

// TestEveryKindReads keeps the words of every kind in a file that a person can read.
func TestEveryKindReads(t *testing.T) {
	all := samples()
	for _, kind := range shop.NoticeKinds {
		s, ok := all[kind]
		if !ok {
			t.Errorf("no sample of kind %q", kind)
			continue
		}
		m := compose(t, s)
		text := fmt.Sprintf("To: %s\nSubject: %s\n\n%s", m.To.String(), m.Subject, m.Text)
		golden(t, kind+".txt", []byte(text))
		if m.Subject == "" || strings.Contains(m.Text, "<no value>") || strings.Contains(m.Text, "%!") {
			t.Errorf("%s: a hole in the text:\n%s", kind, text)
		}
		if len(m.Subject) > 110 {
			t.Errorf("%s: the subject has %d bytes: %s", kind, len(m.Subject), m.Subject)
		}
	}
	files, err := filepath.Glob("texts/*.txt")
	if err != nil || len(files) != len(shop.NoticeKinds)+1 {
		t.Errorf("%d texts for %d kinds (and the parts), %v", len(files), len(shop.NoticeKinds), err)
	}
}

// A date is never written without its weekday (the design's rule for every door).
func TestEveryDateHasItsWeekday(t *testing.T) {
	date := regexp.MustCompile(`(\w+) (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d`)
	for kind, s := range samples() {
		m := compose(t, s)
		for _, hit := range date.FindAllStringSubmatch(strings.Join(strings.Fields(m.Subject+" "+m.Text), " "), -1) {
			if !strings.Contains("Mon Tue Wed Thu Fri Sat Sun", hit[1]) {
				t.Errorf("%s: %q has no weekday", kind, hit[0])
			}
		}
	}
}

// Money is told to payers only, and a present never says what it cost.
func TestMoneyGoesToPayersOnly(t *testing.T) {
	all := samples()
	for kind, s := range all {
		if strings.HasPrefix(s.notice.Kind, "order") || s.notice.Subject == toShop {
			continue
		}
		s.notice.Subject = toGuest
		s.facts.Total, s.facts.Paid, s.facts.Owes, s.facts.Back, s.facts.Credit = 111_00, 112_00, 113_00, 114_00, 115_00
		m := compose(t, s)
		if strings.Contains(m.Subject+m.Text+m.HTML, "$") {
			t.Errorf("%s tells a guest money:\n%s\n%s", kind, m.Subject, m.Text)
		}
	}
	gift := all[shop.NoticeVoucherGift]
	gift.facts.Total, gift.facts.Paid = 95_00, 95_00
	if m := compose(t, gift); strings.Contains(m.Subject+m.Text+m.HTML, "95") {
		t.Errorf("the present says its price:\n%s", m.Text)
	}
}

// Whoever must choose again is told neither who nor why, even when the notice knows.
func TestReopenedPickTellsNeitherWhoNorWhy(t *testing.T) {
	m := compose(t, samples()[shop.NoticePickReopened])
	low := strings.ToLower(m.Subject + m.Text + m.HTML)
	for _, bad := range []string{"allerg", "casper", "severe", "reaction", "health"} {
		if strings.Contains(low, bad) {
			t.Errorf("the message says %q:\n%s", bad, m.Text)
		}
	}
	if !strings.Contains(m.Text, "will not be on the table") {
		t.Errorf("the message does not say what happened:\n%s", m.Text)
	}
}

func TestWhatAMessageMustSay(t *testing.T) {
	all := samples()
	for kind, want := range map[string][]string{
		shop.NoticeBooked:     {"$210.00", "Sat Nov 7, 14:00–16:30", "Sat Nov 21", "/b/k2v7secret", "3 Corbel Street", "Closed shoes"},
		shop.NoticeReady:      {"Open next: Sat Nov 14, 15:20–18:00; usually Tue–Sat 10:00–18:00", "fetch it by: Sat Nov 28, 18:00", "41 °F or colder", "Not cooked: cook it", "Use or freeze by: Sat Dec 5"},
		shop.NoticeCollect:    {"today (Sat Nov 28) until 18:00"}, // the house's own story: day 14 at 10:00
		shop.NoticeOrderAsked: {"4 pigs", "206 lb", "Wed Oct 21", "Thu Oct 22", "condemned", "Wed Sep 30, 17:00", "/o/k2v7order"},
		shop.NoticeHoldAlarm:  {"Cure cooler", "Sun Nov 8, 04:15", "B4-01, B4-02 and B5-01", "named person"},
		shop.NoticeRecall:     {"do not eat", "B5-10"},
	} {
		m := compose(t, all[kind])
		flat := strings.Join(strings.Fields(m.Subject+" "+m.Text), " ")
		for _, w := range want {
			if !strings.Contains(flat, w) {
				t.Errorf("%s does not say %q:\n%s", kind, w, m.Text)
			}
		}
	}
}

func TestHTMLSaysTheSameAndLoadsNothing(t *testing.T) {
	tags := regexp.MustCompile(`(?s)<head>.*?</head>|<[^>]*>`)
	for kind, s := range samples() {
		m := compose(t, s)
		words := func(s string) string { return strings.Join(strings.Fields(s), "") }
		html := strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&#43;", "+", "&lt;", "<", "&gt;", ">", "&amp;", "&").Replace(tags.ReplaceAllString(m.HTML, " "))
		text := strings.ReplaceAll(m.Text, "- ", " ")
		for _, l := range strings.Split(m.Text, "\n") { // addresses are behind their labels in HTML
			if strings.HasPrefix(l, "https://") {
				text = strings.Replace(text, ":\n"+l, "\n", 1)
			}
		}
		if got := words(html); got != words("Corbel Street Butchery"+text) {
			t.Errorf("%s: the two parts differ:\n%s\n%s", kind, got, words(text))
		}
		for _, bad := range []string{"<img", "<script", "url(", "<link", "@import", "src="} {
			if strings.Contains(m.HTML, bad) {
				t.Errorf("%s: %q in the HTML part", kind, bad)
			}
		}
	}
	golden(t, "ready.html", []byte(compose(t, samples()[shop.NoticeReady]).HTML))
}

// What somebody typed becomes neither markup, nor a link, nor a paragraph of ours.
func TestTypedTextStaysText(t *testing.T) {
	s := samples()[shop.NoticeHoldTold]
	s.facts.Reason = "<script>x</script>\n\nPay here: https://evil.example.test/x\n- item"
	s.notice.ToName = `Nerys "<b>" D.`
	m := compose(t, s)
	if strings.Contains(m.HTML, "<script") || strings.Contains(m.HTML, "<b>") || strings.Contains(m.HTML, `href="https://evil`) || strings.Contains(m.Text, "\n- item") {
		t.Errorf("typed text got out:\n%s\n%s", m.Text, m.HTML)
	}
}

func TestHeadersCannotBeInjected(t *testing.T) {
	good := samples()[shop.NoticeBooked]
	for _, bad := range []string{
		"a@b.example.test\r\nBcc: x@evil.example.test", "a@b.example.test\nX: 1", "Nerys <a@b.example.test>", "a@b", "a@[127.0.0.1]", "a b@c.example.test",
		"a@b.example.test (x)", "", "@b.example.test", "a@", "a@b.example.test, c@d.example.test", "a@.test", "a@b.test.", "ä@b.example.test", "a@b.example.test\x00", `"a\r\nb"@c.example.test`,
	} {
		s := good
		s.notice.ToAddr = bad
		if m, err := Compose(s.notice, s.facts, corbel()); err == nil {
			t.Errorf("address %q went through as %v", bad, m.To)
		}
		h := corbel()
		h.From = bad
		if _, err := Compose(good.notice, good.facts, h); err == nil {
			t.Errorf("sender %q went through", bad)
		}
		if bad == "" {
			continue
		}
		h = corbel()
		h.ReplyTo = bad
		if _, err := Compose(good.notice, good.facts, h); err == nil {
			t.Errorf("reply address %q went through", bad)
		}
		s = good
		inv := *s.facts.Invite
		inv.Organizer = bad
		s.facts.Invite = &inv
		if _, err := Compose(s.notice, s.facts, corbel()); err == nil {
			t.Errorf("organizer %q went through", bad)
		}
	}
	for _, bad := range []string{"Nerys\r\nBcc: x@evil.example.test", "Nerys\nD.", "Nerys\x00", "Nerys\u2028D."} {
		s := good
		s.notice.ToName = bad
		if _, err := Compose(s.notice, s.facts, corbel()); err == nil {
			t.Errorf("name %q went through", bad)
		}
		h := corbel()
		h.Name = bad
		if _, err := Compose(good.notice, good.facts, h); err == nil {
			t.Errorf("shop %q went through", bad)
		}
	}
	// A title of the shop's own making lands in the subject: line ends become blanks.
	s := good
	s.facts.Class = "Bacon\r\nBcc: x@evil.example.test"
	m := compose(t, s)
	b, err := m.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	got, err := netmail.ReadMessage(bytes.NewReader(b))
	if err != nil || got.Header.Get("Bcc") != "" {
		t.Errorf("a title wrote a header: %v, %v", got.Header, err)
	}
	m.Subject = "x\r\nBcc: y"
	if _, err := m.Bytes(); err == nil {
		t.Error("Bytes took a subject with a line end")
	}
}

// part is one alternative of a message as a reader sees it.
type part struct{ kind, body string }

func read(t testing.TB, raw []byte) (netmail.Header, []part) {
	t.Helper()
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("%s, %v", kind, err)
	}
	var parts []part
	r := multipart.NewReader(m.Body, params["boundary"])
	for {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return m.Header, parts
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
		parts = append(parts, part{p.Header.Get("Content-Type"), string(b)})
	}
}

func TestInvitationOnTheWire(t *testing.T) {
	for kind, method := range map[string]string{shop.NoticeBooked: "REQUEST", shop.NoticeClassMoved: "REQUEST", shop.NoticeClassOff: "CANCEL", shop.NoticeLetGo: "CANCEL"} {
		m := compose(t, samples()[kind])
		raw, err := m.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		again, _ := m.Bytes()
		if !bytes.Equal(raw, again) {
			t.Errorf("%s: the same message gave other bytes", kind)
		}
		h, parts := read(t, raw)
		if len(parts) != 3 || !strings.HasPrefix(parts[0].kind, "text/plain") || !strings.HasPrefix(parts[1].kind, "text/html") {
			t.Fatalf("%s: parts %+v", kind, parts)
		}
		if strings.ReplaceAll(parts[0].body, "\r\n", "\n") != m.Text {
			t.Errorf("%s: the text came back as %q", kind, parts[0].body)
		}
		// RFC 6047, 2.4: the method stands in the type and in the file, and they agree.
		mt, params, err := mime.ParseMediaType(parts[2].kind)
		if err != nil || mt != "text/calendar" || params["method"] != method || !strings.EqualFold(params["charset"], "utf-8") {
			t.Errorf("%s: calendar part is %q", kind, parts[2].kind)
		}
		ev := calendartest.Read(t, []byte(parts[2].body))
		if len(ev) != 1 || ev[0].Method != method || ev[0].UID != "class-5@corbel.example.test" || ev[0].Start != "2026-11-07T20:00:00Z" {
			t.Errorf("%s: %+v", kind, ev)
		}
		if id := h.Get("Message-ID"); id != "<"+messageID(kind+"/28", "corbel.example.test")+">" {
			t.Errorf("%s: Message-ID %s", kind, id)
		}
	}
	raw, err := compose(t, samples()[shop.NoticeBooked]).Bytes()
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "booked.eml", raw)
}

func TestMessageIDComesFromTheKey(t *testing.T) {
	// SHA-256 of "abc" begins ba7816bf8f01cfea414140de5dae2223 (FIPS 180-2, appendix B.1).
	if got := messageID("abc", "corbel.example.test"); got != "ba7816bf8f01cfea414140de5dae2223@corbel.example.test" {
		t.Error(got)
	}
}

func TestComposeRefuses(t *testing.T) {
	s := samples()[shop.NoticeBooked]
	s.notice.Kind = "nonsense"
	if _, err := Compose(s.notice, s.facts, corbel()); err == nil {
		t.Error("a kind without a text went through")
	}
	s = samples()[shop.NoticeBooked]
	if _, err := Compose(s.notice, s.facts, House{}); err == nil {
		t.Error("a shop without a name went through")
	}
}

// Every text must bear facts that are not given: nothing of a kind is promised.
func TestTextsBearEmptyFacts(t *testing.T) {
	for _, kind := range shop.NoticeKinds {
		for _, subject := range []string{toBooking, toGuest, toShop} {
			m, err := Compose(shop.Notice{Key: kind, Kind: kind, ToName: "N", ToAddr: "n@mail.example.test", Subject: subject, DueAt: 1, CreatedAt: 1}, shop.Facts{}, corbel())
			if err != nil || m.Text == "" {
				t.Errorf("%s to %s: %v", kind, subject, err)
			}
		}
	}
}

func TestOpenHours(t *testing.T) {
	r := shop.DefaultRules()
	for want, days := range map[string][]int{"Tue–Sat 10:00–18:00": {2, 3, 4, 5, 6}, "Mon, Thu and Fri 10:00–18:00": {5, 1, 4}, "Wed 10:00–18:00": {3}, "": nil} {
		r.CounterDays = days
		if got := openHours(r); got != want {
			t.Errorf("openHours(%v) = %q, want %q", days, got, want)
		}
	}
}

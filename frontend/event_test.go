package frontend

import (
	"bytes"
	"encoding/json"
	"errors"
	"image/png"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// vocab is the part of schema.org's vocabulary that a class's data uses.
type vocab struct {
	Source     string
	Properties []struct {
		Property   string
		On, Values []string
	}
	Words []struct{ Word, Of string }
}

func readVocab(t *testing.T) vocab {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "checks", "schema-event.json"))
	if err != nil {
		t.Fatal(err)
	}
	var v vocab
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

var (
	isoMoment = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d([+-]\d\d:\d\d|Z)$`)
	isoDay    = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)
)

// fits says whether a value is of one of the types a property may have.
func (v vocab) fits(value any, types []string) bool {
	for _, want := range types {
		switch x := value.(type) {
		case map[string]any:
			if x["@type"] == want {
				return true
			}
		case float64:
			if want == "Number" || want == "Integer" && x == float64(int(x)) {
				return true
			}
		case string:
			word, _ := strings.CutPrefix(x, "https://schema.org/")
			u, err := url.Parse(x)
			switch {
			case want == "Text" && x != "",
				want == "DateTime" && isoMoment.MatchString(x),
				want == "Date" && isoDay.MatchString(x),
				want == "URL" && err == nil && u.IsAbs() && u.Host != "",
				slices.ContainsFunc(v.Words, func(w struct{ Word, Of string }) bool { return w.Word == word && w.Of == want }):
				return true
			}
		}
	}
	return false
}

// holds walks a node and names every property that the vocabulary does not have on its
// type, or not with such a value. Every type here is a Thing.
func (v vocab) holds(t *testing.T, node map[string]any) {
	t.Helper()
	kind, _ := node["@type"].(string)
	for name, value := range node {
		if strings.HasPrefix(name, "@") {
			continue
		}
		i := slices.IndexFunc(v.Properties, func(p struct {
			Property   string
			On, Values []string
		}) bool {
			return p.Property == name
		})
		if i < 0 {
			t.Errorf("%s.%s is not in the table of the vocabulary", kind, name)
			continue
		}
		p := v.Properties[i]
		if !slices.Contains(p.On, kind) && !slices.Contains(p.On, "Thing") {
			t.Errorf("%s has no property %s; it is of %v", kind, name, p.On)
		}
		values, many := value.([]any)
		if !many {
			values = []any{value}
		}
		for _, one := range values {
			if !v.fits(one, p.Values) {
				t.Errorf("%s.%s is %v, want %v", kind, name, one, p.Values)
			}
			if child, ok := one.(map[string]any); ok {
				v.holds(t, child)
			}
		}
	}
}

// eventOf cuts the data out of a page.
func eventOf(t *testing.T, page string) (string, map[string]any) {
	t.Helper()
	text := between(page, `<script type="application/ld+json">`, `</script>`)
	var node map[string]any
	if err := json.Unmarshal([]byte(text), &node); err != nil {
		t.Fatalf("%v in %q", err, text)
	}
	return text, node
}

// A class's data against schema.org's own vocabulary, and what search engines ask of an
// event besides: name, start, and a place with an address (Google Search Central, "Event
// structured data", required properties; as read in a stored copy of its table).
func TestEventData(t *testing.T) {
	v := readVocab(t)
	if len(v.Properties) < 20 || !strings.Contains(v.Source, "schema.org") {
		t.Fatalf("the table of the vocabulary is not whole: %+v", v)
	}
	o := street(t)
	o.Go("2026-10-19 12:00") // the price rises the day after
	_, node := eventOf(t, o.has("/classes/B5", nil, 200))
	v.holds(t, node)
	for _, want := range []string{"name", "startDate", "location", "endDate", "description", "image", "offers", "organizer", "eventStatus"} {
		if node[want] == nil {
			t.Errorf("no %s", want)
		}
	}
	place, _ := node["location"].(map[string]any)
	address, _ := place["address"].(map[string]any)
	if address["streetAddress"] != "3 Corbel Street" || address["addressLocality"] != "Pellow Crossing" || address["addressCountry"] != "US" {
		t.Errorf("address %v", address)
	}
	start, err := time.Parse(time.RFC3339, node["startDate"].(string))
	if err != nil || !start.Equal(o.At("2026-11-07 14:00").Time()) {
		t.Errorf("starts %v (%v)", start, err)
	}
	offer := node["offers"].([]any)[0].(map[string]any)
	if offer["price"] != "95.00" || offer["priceValidUntil"] != "2026-10-20" || offer["availability"] != "https://schema.org/InStock" {
		t.Errorf("offer %v", offer)
	}
	// Being held is not sold out; called off is said.
	o.Go("2026-10-20 20:10")
	o.booked("B5", seats("2", "Nerys O.", "n1"))
	_, node = eventOf(t, o.has("/classes/B5", nil, 200))
	v.holds(t, node)
	if got := node["offers"].([]any)[0].(map[string]any); got["availability"] != "https://schema.org/LimitedAvailability" || got["price"] != "105.00" {
		t.Errorf("offer while held: %v", got)
	}
}

// The same data read by a general parser of linked data, rdflib, which knows nothing of
// us: one event, one address, and every value reached. The context is schema.org's rule
// that every plain name is one of its terms; the address of the context is not fetched.
func TestEventDataReadByAParser(t *testing.T) {
	const python = "/usr/bin/python3" // Debian's own: python3-rdflib belongs to it
	o := street(t)
	text, _ := eventOf(t, o.has("/classes/B5", nil, 200))
	cmd := exec.Command(python, "-c", `
import sys, json, rdflib
doc = json.load(sys.stdin)
assert doc["@context"] == "https://schema.org", doc["@context"]
doc["@context"] = {"@vocab": "https://schema.org/"}
g = rdflib.Graph()
g.parse(data=json.dumps(doc), format="json-ld")
S = rdflib.Namespace("https://schema.org/")
(event,) = g.subjects(rdflib.RDF.type, S.Event)
(place,) = g.objects(event, S.location)
(address,) = g.objects(place, S.address)
(shop,) = g.objects(event, S.organizer)
print(json.dumps({"name": str(g.value(event, S.name)), "start": str(g.value(event, S.startDate)), "street": str(g.value(address, S.streetAddress)),
  "shop": str(g.value(shop, S.name)), "prices": sorted(str(g.value(x, S.price)) for x in g.objects(event, S.offers)), "triples": len(g)}))
`)
	cmd.Stdin = strings.NewReader(text)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if errors.Is(err, fs.ErrNotExist) || bytes.Contains(stderr.Bytes(), []byte("ModuleNotFoundError")) {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s cannot import rdflib (Debian: python3-rdflib): in CI the outside parser may not be left out", python)
		}
		t.Skipf("NOT CHECKED by an outside parser of linked data: %s cannot import rdflib (Debian: python3-rdflib)", python)
	}
	if err != nil {
		t.Fatalf("the outside parser refused it: %v\n%s\n%s", err, stderr.Bytes(), text)
	}
	var got struct {
		Name, Start, Street, Shop string
		Prices                    []string
		Triples                   int
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if got.Name != "Bacon-curing class" || got.Start != "2026-11-07T14:00:00-06:00" || got.Street != "3 Corbel Street" ||
		got.Shop != "Corbel Street Butchery" || !slices.Equal(got.Prices, []string{"105.00", "30.00"}) || got.Triples < 25 {
		t.Errorf("read back: %+v", got)
	}
}

// What a page shows where its address is sent to a friend: the words, and a picture of
// them that is one PNG of the size it says, small, and drawn anew when the words change.
func TestSharedPages(t *testing.T) {
	o := street(t)
	page := o.has("/classes/B5", nil, 200, `property="og:title" content="Bacon-curing class, Sat Nov 7, 14:00"`, `property="og:image" content="https://corbel.example.test/classes/B5/picture.png"`,
		`content="Corbel Street Butchery: Bacon-curing class. Sat Nov 7, 14:00. Bacon ready about Sat Nov 21. $105.00 a seat."`, "Often asked", "3 Corbel Street, Pellow Crossing")
	if strings.Contains(between(page, "<head>", "</head>"), "seats left") {
		t.Error("what is sent to a friend says how many seats were left when it was sent")
	}
	o.has("/", nil, 200, `property="og:image" content="https://corbel.example.test/picture.png"`)
	fetch := func(path, tag string) (int, []byte, http.Header) {
		r := newGet(path)
		r.Header.Set("If-None-Match", tag)
		w := record(o.e, r)
		return w.Code, w.Body.Bytes(), w.Header()
	}
	for _, path := range []string{"/picture.png", "/classes/B5/picture.png", "/classes/B7/picture.png"} {
		code, b, h := fetch(path, "")
		m, err := png.Decode(bytes.NewReader(b))
		if code != 200 || err != nil || m.Bounds().Dx() != 1200 || m.Bounds().Dy() != 630 {
			t.Fatalf("%s: %d, %v", path, code, err)
		}
		if len(b) > 60_000 {
			t.Errorf("%s is %d bytes", path, len(b))
		}
		t.Logf("%s: %d bytes", path, len(b))
		shot := os.Getenv("SHOTS")
		if shot != "" {
			if err := os.WriteFile(filepath.Join(shot, strings.ReplaceAll(strings.Trim(path, "/"), "/", "-")), b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if again, _, _ := fetch(path, h.Get("ETag")); again != http.StatusNotModified {
			t.Errorf("%s again: %d", path, again)
		}
	}
	_, before, _ := fetch("/classes/B5/picture.png", "")
	o.Go("2026-10-20 08:00") // before the price rose
	if _, now, _ := fetch("/classes/B5/picture.png", ""); bytes.Equal(before, now) {
		t.Error("another price, the same picture")
	}
	for _, path := range []string{"/classes/ZZ/picture.png", "/classes/P9/picture.png"} {
		if code, _, _ := fetch(path, ""); code != 404 {
			t.Errorf("%s: %d", path, code)
		}
	}
}

func newGet(path string) *http.Request { return httptest.NewRequest(http.MethodGet, path, nil) }

func record(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

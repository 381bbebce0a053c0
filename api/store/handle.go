package store

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A Handle is what a trace begins from.
type Handle struct {
	Kind  string // one of handleKinds
	Key   string
	From  unit.Instant // of jar, room, scale, farm and plant: the span asked for, 0 from the beginning
	Until unit.Instant // 0: to now
}

// handleKinds are the things a trace begins from, and what each is called.
var handleKinds = map[string]string{
	"slab": "slab", "animal": "animal", "side": "side", "belly": "belly", "delivery": "meat delivery", "lot": "ingredient lot", "jar": "jar",
	"room": "room", "load": "smoke load", "scale": "scale", "farm": "farm", "plant": "plant", "grind": "grinding",
}

// Spans says whether a handle is asked for between two moments.
func (h Handle) Spans() bool {
	switch h.Kind {
	case "jar", "room", "scale", "farm", "plant":
		return true
	}
	return false
}

// Path is the handle as the end of an address.
func (h Handle) Path() string {
	p := url.PathEscape(h.Kind) + "/" + url.PathEscape(h.Key)
	q := url.Values{}
	if h.From != 0 {
		q.Set("from", h.From.String())
	}
	if h.Until != 0 {
		q.Set("until", h.Until.String())
	}
	if len(q) > 0 {
		p += "?" + q.Encode()
	}
	return p
}

// Sub is Path with a word after the key: "lot/4/hold?from=…".
func (h Handle) Sub(word string) string {
	path, query, _ := strings.Cut(h.Path(), "?")
	if query != "" {
		query = "?" + query
	}
	return path + "/" + word + query
}

// A TraceHit is one thing that answers to what was typed.
type TraceHit struct {
	Handle
	What string // "ingredient lot"
	Name string
}

// mostHits bounds one answer of the search, for each kind.
const mostHits = 12

var (
	dayTyped   = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b(?:[ T]\d{1,2}:\d{2}(?::\d{2}(?:Z|[+-]\d{2}:\d{2}))?)?`)
	clockTyped = regexp.MustCompile(`\b\d{1,2}:\d{2}\b`)
	fillers    = regexp.MustCompile(`(?i)\b(from|to|until|till|between|and|lot|slab|jar|room|scale|farm|plant|animal|on|tag|order|smoke|load|delivery|grinding|roll of)\b|[–—]`)
)

// Span reads the dates and clocks in a text: the first is the beginning, the second the
// end, which on a date alone is the end of that day. What is left of the text follows.
func (s *Store) span(text string) (from, until unit.Instant, days []unit.Day, rest string, err error) {
	found := dayTyped.FindAllStringIndex(text, -1)
	rest = text
	for i := len(found) - 1; i >= 0; i-- {
		rest = rest[:found[i][0]] + " " + rest[found[i][1]:]
	}
	for i, at := range found {
		if i > 1 {
			break
		}
		instant, end, day, perr := s.moment(text[at[0]:at[1]])
		if perr != nil {
			return 0, 0, nil, rest, perr
		}
		days = append(days, day)
		if i == 0 {
			from, until = instant, end
		} else {
			until = end
		}
	}
	if len(found) == 1 && clockTyped.MatchString(text[found[0][0]:found[0][1]]) {
		until = 0
		if c := clockTyped.FindString(rest); c != "" { // "02:00 to 07:30" of one day
			if _, until, _, err = s.moment(days[0].String() + " " + c); err != nil {
				return
			}
			rest = strings.Replace(rest, c, " ", 1)
		}
	}
	return from, until, days, rest, nil
}

// moment reads "2026-11-08", "2026-11-08 02:00" or RFC 3339. end is the moment itself, or
// the end of the day when no clock stands there.
func (s *Store) moment(text string) (at, end unit.Instant, day unit.Day, err error) {
	text = trim(text)
	if i, err := unit.ParseInstant(text); err == nil {
		return i, i, i.Day(s.Loc), nil
	}
	if d, err := unit.ParseDay(text); err == nil {
		return d.At(0, 0, s.Loc), (d + 1).At(0, 0, s.Loc), d, nil
	}
	t, err := time.ParseInLocation("2006-01-02 15:04", strings.Replace(text, "T", " ", 1), s.Loc)
	if err != nil {
		return 0, 0, 0, fmt.Errorf("%q is no moment: write it as 2026-11-08 02:00, or only the day", text)
	}
	i := unit.InstantOf(t)
	return i, i, i.Day(s.Loc), nil
}

// TraceSpan reads the two ends of a span as typed; either may be empty.
func (s *Store) TraceSpan(from, until string) (unit.Instant, unit.Instant, error) {
	var w shop.Wrong
	var a, b unit.Instant
	var err error
	if trim(from) != "" {
		if a, _, _, err = s.moment(from); err != nil {
			w.Add("from", "%s.", sentence(err.Error()))
		}
	}
	if trim(until) != "" {
		if _, b, _, err = s.moment(until); err != nil {
			w.Add("until", "%s.", sentence(err.Error()))
		}
	}
	if b != 0 && a > b {
		w.Add("until", "It ends before it begins.")
	}
	return a, b, w.Err()
}

// A traceQuery finds handles of one kind by a name: exact first, then part of it.
type traceQuery struct {
	kind  string
	exact string // with ? for the lower-case text, once for each of marks
	like  string // the same with a pattern
	marks int
}

const animalName = `animals.tag || ', ' || animals.species || ' of ' || farms.name || ', order ' || orders.number || ' number ' || animals.number`

var traceQueries = []traceQuery{
	{"slab", "SELECT tag AS key, tag AS name FROM slabs WHERE tag = upper(?)", "SELECT tag AS key, tag AS name FROM slabs WHERE lower(tag) LIKE ? ESCAPE '\\' ORDER BY id", 1},
	{"lot", "SELECT CAST(id AS TEXT) AS key, ingredient || ' ' || code AS name FROM ingredient_lots WHERE lower(code) = ? OR lower(ingredient || ' ' || code) = ?",
		"SELECT CAST(id AS TEXT) AS key, ingredient || ' ' || code AS name FROM ingredient_lots WHERE lower(ingredient || ' ' || code) LIKE ? ESCAPE '\\' OR lower(supplier) LIKE ? ESCAPE '\\' ORDER BY id DESC", 2},
	{"delivery", "SELECT CAST(deliveries.id AS TEXT) AS key, deliveries.lot AS name FROM deliveries WHERE lower(lot) = ?",
		"SELECT CAST(deliveries.id AS TEXT) AS key, deliveries.lot AS name FROM deliveries WHERE lower(lot) LIKE ? ESCAPE '\\' ORDER BY id DESC", 1},
	{"animal", "SELECT CAST(animals.id AS TEXT) AS key, " + animalName + " AS name FROM animals JOIN orders ON orders.id = animals.order_id JOIN farms ON farms.id = orders.farm_id WHERE animals.tag <> '' AND lower(animals.tag) = ?",
		"SELECT CAST(animals.id AS TEXT) AS key, " + animalName + " AS name FROM animals JOIN orders ON orders.id = animals.order_id JOIN farms ON farms.id = orders.farm_id WHERE lower(animals.tag) LIKE ? ESCAPE '\\' ORDER BY animals.id DESC", 1},
	{"side", "SELECT CAST(sides.id AS TEXT) AS key, animals.tag || ' ' || sides.which AS name FROM sides JOIN animals ON animals.id = sides.animal_id WHERE lower(animals.tag || ' ' || sides.which) = ?", "", 1},
	{"belly", "SELECT CAST(bellies.id AS TEXT) AS key, 'belly ' || animals.tag || ' ' || sides.which AS name FROM bellies JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id WHERE lower(animals.tag || ' ' || sides.which) = ? OR lower('belly ' || animals.tag || ' ' || sides.which) = ?", "", 2},
	{"jar", "SELECT code AS key, code || ' ' || name AS name FROM jars WHERE lower(code) = ? OR lower(name) = ?", "SELECT code AS key, code || ' ' || name AS name FROM jars WHERE lower(name) LIKE ? ESCAPE '\\' OR lower(contents) LIKE ? ESCAPE '\\' ORDER BY id", 2},
	{"room", "SELECT code AS key, name FROM rooms WHERE lower(code) = ? OR lower(name) = ?", "SELECT code AS key, name FROM rooms WHERE lower(name) LIKE ? ESCAPE '\\' ORDER BY id", 1},
	{"scale", "SELECT CAST(id AS TEXT) AS key, name FROM scales WHERE lower(name) = ?", "SELECT CAST(id AS TEXT) AS key, name FROM scales WHERE lower(name) LIKE ? ESCAPE '\\' ORDER BY id", 1},
	{"farm", "SELECT code AS key, name FROM farms WHERE lower(code) = ? OR lower(name) = ?", "SELECT code AS key, name FROM farms WHERE lower(name) LIKE ? ESCAPE '\\' ORDER BY id", 1},
	{"plant", "SELECT CAST(id AS TEXT) AS key, name || ', ' || number AS name FROM plants WHERE lower(number) = ? OR lower(name) = ?", "SELECT CAST(id AS TEXT) AS key, name || ', ' || number AS name FROM plants WHERE lower(name || ' ' || number) LIKE ? ESCAPE '\\' ORDER BY id", 1},
	{"grind", "SELECT CAST(grinds.id AS TEXT) AS key, grinds.product || ' with ' || grind_sources.lot AS name FROM grinds JOIN grind_sources ON grind_sources.grind_id = grinds.id WHERE lower(grind_sources.lot) = ? OR lower(grind_sources.establishment) = ?",
		"SELECT DISTINCT CAST(grinds.id AS TEXT) AS key, grinds.product || ' with ' || grind_sources.lot AS name FROM grinds JOIN grind_sources ON grind_sources.grind_id = grinds.id WHERE lower(grind_sources.lot) LIKE ? ESCAPE '\\' OR lower(grind_sources.establishment) LIKE ? ESCAPE '\\'", 2},
}

// TraceSearch reads one line as a person types it: a tag, a lot, an animal, a jar, room or
// scale with two moments, a farm, a smoke day. Whole names come before parts of names.
func (s *Store) TraceSearch(ctx context.Context, q string) ([]TraceHit, error) {
	q = strings.Join(strings.Fields(q), " ")
	if len([]rune(q)) < 2 {
		return nil, field("q", "Type a tag, a lot, an animal, a jar, a room, a scale, a farm or a day.")
	}
	db := s.read(ctx)
	from, until, days, rest, err := s.span(q)
	if err != nil {
		return nil, field("q", "%s.", sentence(err.Error()))
	}
	whole := strings.ToLower(strings.Join(strings.Fields(rest), " "))
	bare := strings.ToLower(strings.Join(strings.Fields(fillers.ReplaceAllString(rest, " ")), " "))
	var hits []TraceHit
	if len(days) > 0 && (bare == "" || strings.Contains(whole, "smoke")) {
		if hits, err = s.onDay(db, days[0]); err != nil || bare == "" {
			return hits, err
		}
	}
	if n, err := strconv.Atoi(bare); err == nil && strings.Contains(whole, "order") {
		return s.ordersDeliveries(db, n)
	}
	for _, name := range []string{whole, bare} {
		if len(hits) == 0 && name != "" {
			if hits, err = s.namedHits(db, name, true); err != nil {
				return nil, err
			}
		}
	}
	if len(hits) == 0 && len([]rune(bare)) >= 2 {
		if hits, err = s.namedHits(db, bare, false); err != nil {
			return nil, err
		}
	}
	for i := range hits {
		if hits[i].Spans() {
			hits[i].From, hits[i].Until = from, until
		}
	}
	return hits, nil
}

func (s *Store) namedHits(db *gorm.DB, name string, exact bool) ([]TraceHit, error) {
	var hits []TraceHit
	pattern := "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(name) + "%"
	for _, q := range traceQueries {
		sql, arg := q.exact, any(name)
		if !exact {
			sql, arg = q.like, pattern
		}
		if sql == "" {
			continue
		}
		args := []any{}
		for range strings.Count(sql, "?") {
			args = append(args, arg)
		}
		var rows []struct{ Key, Name string }
		if err := db.Raw(sql+" LIMIT "+strconv.Itoa(mostHits), args...).Scan(&rows).Error; err != nil {
			return nil, fmt.Errorf("look for a %s: %w", q.kind, err)
		}
		for _, r := range rows {
			hits = append(hits, TraceHit{Handle{Kind: q.kind, Key: r.Key}, handleKinds[q.kind], r.Name})
		}
	}
	return hits, nil
}

// onDay is what a day alone may mean: its smoke load and the meat that came.
func (s *Store) onDay(db *gorm.DB, d unit.Day) ([]TraceHit, error) {
	var hits []TraceHit
	var n int64
	err := db.Raw("SELECT count(*) FROM steps WHERE to_state = ? AND done_at >= ? AND done_at < ?", shop.InSmoke, d.At(0, 0, s.Loc), (d+1).At(0, 0, s.Loc)).Scan(&n).Error
	if err != nil {
		return nil, err
	}
	if n > 0 {
		hits = append(hits, TraceHit{Handle{Kind: "load", Key: d.String()}, handleKinds["load"], "smoke of " + d.ShowYear()})
	}
	came, err := deliveryHits(db, "deliveries.day = ?", d)
	return append(hits, came...), err
}

func (s *Store) ordersDeliveries(db *gorm.DB, number int) ([]TraceHit, error) {
	return deliveryHits(db, "orders.number = ?", number)
}

func deliveryHits(db *gorm.DB, where string, arg any) ([]TraceHit, error) {
	var rows []struct{ Key, Name string }
	err := db.Raw("SELECT CAST(deliveries.id AS TEXT) AS key, deliveries.lot || ', ' || orders.species || ' of ' || farms.name AS name FROM deliveries JOIN orders ON orders.id = deliveries.order_id JOIN farms ON farms.id = orders.farm_id WHERE "+where+" ORDER BY deliveries.id", arg).Scan(&rows).Error
	var hits []TraceHit
	for _, r := range rows {
		hits = append(hits, TraceHit{Handle{Kind: "delivery", Key: r.Key}, handleKinds["delivery"], r.Name})
	}
	return hits, err
}

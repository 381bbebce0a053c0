package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"flitchbook/frontend/browsertest"
	"flitchbook/planner/unit"
)

// A coldRoom is a browser at the bench whose signal can be taken away.
type coldRoom struct {
	*browsertest.Tab
	h   *house
	cut atomic.Bool
}

// atTheBench signs somebody in on a phone and opens the bench.
func (h *house) atTheBench(t *testing.T, login string) *coldRoom {
	t.Helper()
	e, err := newWeb(defaults(), h.Store, time.Now, h.srv.log)
	if err != nil {
		t.Fatal(err)
	}
	r := &coldRoom{h: h}
	b := browsertest.Start(t, http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		if r.cut.Load() {
			panic(http.ErrAbortHandler) // the line is dead for the page's worker too
		}
		e.ServeHTTP(w, req)
	}))
	r.Tab = b.Tab(t, browsertest.Phone)
	r.signIn(login)
	r.open("ready")
	return r
}

func (r *coldRoom) signIn(login string) {
	r.Open("/login")
	r.Do(chromedp.SendKeys(chromedp.CSS("[name=login]"), login), chromedp.SendKeys(chromedp.CSS("[name=password]"), testPassword+kb.Enter))
	r.there("/staff/today")
}

// there waits until another page has come.
func (r *coldRoom) there(path string) {
	for range 200 {
		got, err := chromedp.Run(r.Context(), chromedp.Evaluate[string](`document.readyState + " " + location.pathname`))
		if err == nil && got == "complete "+path {
			return
		}
		time.Sleep(50 * time.Millisecond) // between two pages the browser answers nothing
	}
	panic("the page " + path + " does not come")
}

// open loads the bench and waits until it is ready, with or without signal.
func (r *coldRoom) open(state string) {
	r.Open("/staff/bench")
	r.WaitFor(`document.querySelector("main").dataset.bench === "` + state + `"`)
}

func (r *coldRoom) signal(there bool) {
	r.cut.Store(!there)
	r.Signal(there)
}

// passed moves the device's own clock on.
func (r *coldRoom) passed(d time.Duration) {
	browsertest.Eval[float64](r.Tab, fmt.Sprintf(`(() => { window.wall ??= Date.now.bind(Date); Date.now = () => window.wall() + %d; return Date.now(); })()`, d.Milliseconds()))
}

// scan types a tag and Enter, as a scanner does.
func (r *coldRoom) scan(tag string) {
	browsertest.Eval[bool](r.Tab, `(document.querySelector("[data-scan]").focus(), document.querySelector("[data-scan]").select(), true)`)
	r.Do(chromedp.KeyEvent(tag + kb.Enter))
	r.WaitFor(`document.querySelector("#slab .tag")?.textContent === "` + tag + `"`)
}

// press does a step of the slab that is shown and returns what is said.
func (r *coldRoom) press(step string, fields ...string) string {
	browsertest.Eval[bool](r.Tab, `(document.querySelector("#result").replaceChildren(), true)`)
	form := `#slab form[action$="/` + step + `"]`
	for i := 0; i+1 < len(fields); i += 2 {
		v, err := json.Marshal(fields[i+1])
		if err != nil {
			panic(err)
		}
		browsertest.Eval[bool](r.Tab, fmt.Sprintf(`(() => { const e = document.querySelector('%s').elements[%q]; e.value = %s; return true; })()`, form, fields[i], v))
	}
	browsertest.Eval[bool](r.Tab, `(document.querySelector('`+form+` button').click(), true)`)
	r.WaitFor(`document.querySelector("#result [data-scan-result]") !== null`)
	return r.result()
}

// pressOnSight fills a box of the next slab's form and presses as soon as it is there.
func (r *coldRoom) pressOnSight(step, field, value string) {
	browsertest.Eval[bool](r.Tab, fmt.Sprintf(`(() => {
		const slab = document.querySelector("#slab");
		document.querySelector("#result").replaceChildren();
		new MutationObserver((_, it) => {
			const f = slab.querySelector('form[action$="/%s"]');
			if (!f) return;
			it.disconnect();
			f.elements.%s.value = %q;
			f.querySelector("button").click();
		}).observe(slab, { childList: true, subtree: true });
		return true;
	})()`, step, field, value))
}

func (r *coldRoom) result() string {
	return browsertest.Eval[string](r.Tab, `(document.querySelector("#result [data-scan-result]")?.dataset.scanResult ?? "") + ": " + (document.querySelector("#result")?.innerText ?? "")`)
}

// waiting waits until the list, which is drawn after the answer to a press, counts n steps.
func (r *coldRoom) waiting(n int) {
	r.WaitFor(fmt.Sprintf(`document.querySelector(".waiting [data-waiting]")?.dataset.waiting === "%d"`, n))
}

func (r *coldRoom) list() string {
	return browsertest.Eval[string](r.Tab, `[...document.querySelectorAll(".waiting")].map((e) => e.innerText).join("\n")`)
}

// W7 and R44: eight slabs are rinsed in the cold room without signal for 35 minutes,
// through a reload and a closed page. They arrive with the times they were done. A hold
// set meanwhile wins: what was done before it is where the slab returns to, what was done
// during it does not count and is shown to whoever releases.
func TestStoryColdRoomWithoutSignal(t *testing.T) {
	h := storyAt(t, "", "2026-11-12 09:00")
	r := h.atTheBench(t, "tobias")
	odile := h.signedIn(t, "odile")
	tags := make([]string, 8)
	for i := range tags {
		tags[i] = fmt.Sprintf("B4-%02d", i+1)
	}
	r.scan(tags[0])
	r.Shot("bench-signal")
	r.Axe()

	r.signal(false)
	r.open("away")
	for i, tag := range tags {
		if i == 4 { // the phone was put away: the page is opened anew, still without signal
			r.open("away")
			if got := r.list(); !strings.Contains(got, "4 steps wait on this device: no signal.") {
				t.Errorf("after a reload: %s", got)
			}
			h.Clock.Set(unit.InstantOf(time.Date(2026, 11, 12, 9, 22, 0, 0, h.Loc)))
			odile.ask(http.MethodPost, "/api/v1/holds", `{"tags":["B4-03","B4-08"],"reason":"a knife is missing"}`, http.StatusOK)
		}
		r.passed(time.Duration(i) * 5 * time.Minute)
		if i == 1 { // a quick thumb: pressed the moment the slab shows
			r.pressOnSight("rinse", "drained", "4.30")
		}
		r.scan(tag)
		if i == 0 {
			r.Shot("bench-away")
			r.Fits()
			r.Axe()
			r.Target("main form, .waiting", 126)
		}
		said := ""
		if i == 1 {
			r.WaitFor(`document.querySelector("#result [data-scan-result]") !== null`)
			said = r.result()
		} else {
			said = r.press("rinse", "drained", "4.30")
		}
		if !strings.HasPrefix(said, "right") || !strings.Contains(said, "waits for signal") {
			t.Errorf("%s: %s", tag, said)
		}
	}
	r.waiting(8)
	if got := r.list(); !strings.Contains(got, "8 steps wait on this device: no signal.") {
		t.Error(got)
	}
	r.Shot("bench-waiting")
	r.Fits()
	r.Axe()
	r.Target(".waiting", 126)

	h.Clock.Set(unit.InstantOf(time.Date(2026, 11, 12, 9, 36, 0, 0, h.Loc)))
	r.signal(true)
	r.waiting(0)
	r.WaitFor(`document.querySelector("#result").innerText.includes("The signal is back. 7 of 8 steps counted.")`)
	r.Shot("bench-answers")
	r.Fits()
	r.Axe()
	r.Target("main form, .waiting", 126)
	list := r.list()
	for _, want := range []string{"B4-01 rinsed 09:00: counted", "B4-03 rinsed 09:10: counted", "B4-08 rinsed 09:35: refused: B4-08 is on hold since Thu 09:22"} {
		if !strings.Contains(list, want) {
			t.Errorf("the device does not say %q:\n%s", want, list)
		}
	}
	for i, tag := range tags {
		trace := odile.ask(http.MethodGet, "/api/v1/slabs/"+tag+"/trace", "", http.StatusOK)
		done, received := "", ""
		n := 0
		for _, s := range trace["steps"].([]any) {
			if dig(s, "to") == "rinsed" {
				n++
				done, received = dig(s, "done_at"), dig(s, "received_at")
				if counted := dig(s, "counted") == "true"; counted != (tag != "B4-08") {
					t.Errorf("%s: counted %v", tag, counted)
				}
			}
		}
		at, err := unit.ParseInstant(done)
		if err != nil || n != 1 {
			t.Fatalf("%s: %d rinses, %v", tag, n, err)
		}
		want := unit.InstantOf(time.Date(2026, 11, 12, 9, 5*i, 0, 0, h.Loc))
		if late := at.Sub(want); late < 0 || late > 2*time.Minute || received < "2026-11-12T15:36" {
			t.Errorf("%s: done at %s, want %s; received %s", tag, at.Clock(h.Loc), want.Clock(h.Loc), received)
		}
	}
	for tag, want := range map[string]string{"B4-02": "rinsed", "B4-03": "on hold", "B4-08": "on hold"} {
		if got := dig(odile.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK), "state"); got != want {
			t.Errorf("%s is %s, want %s", tag, got, want)
		}
	}
	odile.reads("/staff/holds", "Done meanwhile, not counted", "B4-08 in cure to rinsed, drained 4.30 lb")
	odile.ask(http.MethodPost, "/api/v1/holds/2/decisions", `{"decision":"release","why":"the knife is found"}`, http.StatusOK)
	for tag, want := range map[string]string{"B4-03": "rinsed", "B4-08": "in cure"} {
		if got := dig(odile.ask(http.MethodGet, "/api/v1/slabs/"+tag, "", http.StatusOK), "state"); got != want {
			t.Errorf("released, %s is %s, want %s", tag, got, want)
		}
	}

	// A refusal stays until a person takes it away; nothing is sent twice.
	r.open("ready")
	if got := r.list(); !strings.Contains(got, "B4-08 rinsed 09:35: refused") {
		t.Errorf("the refusal went away by itself: %s", got)
	}
	browsertest.Eval[bool](r.Tab, `([...document.querySelectorAll(".waiting button")].forEach((b) => b.click()), true)`)
	r.WaitFor(`[...document.querySelectorAll(".waiting")].every((e) => e.hidden)`)

	// With signal the same page goes on as before.
	r.scan("B4-08")
	if said := r.press("rinse"); said != "right: B4-08 is rinsed." {
		t.Error(said)
	}
	r.WaitFor(`[...document.querySelectorAll(".waiting")].every((e) => e.hidden)`)

	// Signing out takes the day's sheet and the kept page with it.
	browsertest.Eval[bool](r.Tab, `(document.querySelector("form[action='/logout']").requestSubmit(), true)`)
	r.there("/login")
	kept := browsertest.Eval[string](r.Tab, `(async () => {
		const db = await new Promise((go) => { const a = indexedDB.open("flitchbook-bench"); a.onsuccess = () => go(a.result); });
		const get = (k) => new Promise((go) => { const a = db.transaction("kept").objectStore("kept").get(k); a.onsuccess = () => go(a.result); });
		return JSON.stringify([await get("sheet") ?? null, await caches.match("/staff/bench/away") ?? null]);
	})()`)
	if kept != "[null,null]" {
		t.Errorf("after signing out the device keeps %s", kept)
	}
}

package main

import (
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// clockCmd moves the clock of a running demo.
type clockCmd struct {
	To      string `arg:"" help:"Moment to move to, on the shop's clocks: \"2026-10-28 15:30\"."`
	Address string `default:"http://127.0.0.1:8080" help:"Where the demo runs." placeholder:"URL"`
}

func (c *clockCmd) Run(p *program) error {
	client := &http.Client{Timeout: 3 * time.Minute, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	req, err := http.NewRequestWithContext(p.ctx, http.MethodPost, strings.TrimRight(c.Address, "/")+"/demo/clock", strings.NewReader(url.Values{"to": {c.To}}.Encode()))
	if err != nil {
		return badSetting("%v", err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res, err := client.Do(req)
	if err != nil {
		return fmt.Errorf("%w: %v", errNoDemo, err)
	}
	defer res.Body.Close()
	io.Copy(io.Discard, io.LimitReader(res.Body, 1<<20))
	switch res.StatusCode {
	case http.StatusSeeOther:
		fmt.Fprintf(p.out, "It is %s in the demo shop.\n", c.To)
		return nil
	case http.StatusUnprocessableEntity:
		return badSetting("the clock cannot go to %q: write it like 2026-10-28 15:30, and forward only", c.To)
	case http.StatusNotFound:
		return errNoDemo
	}
	return fmt.Errorf("the demo answered %s", res.Status)
}

// storyLog tells on the terminal when the story could not go as written, since a visitor
// may have taken a seat it wanted.
func (c *demoCmd) storyLog(p *program) *slog.Logger {
	return slog.New(slog.NewTextHandler(p.err, &slog.HandlerOptions{Level: slog.LevelInfo}))
}

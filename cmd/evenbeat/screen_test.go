package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// short are the commands that answer on one screen.
var short = []string{"spring", "rate", "going", "stability", "fit", "weight", "time"}

// answersShort tells whether a call has a short answer.
func answersShort(args []string) bool {
	is := func(any ...string) bool {
		return slices.ContainsFunc(args, func(a string) bool { return slices.Contains(any, a) })
	}
	return is(short...) && !is("clock", "note", "plot", "demo", "config", "--json", "--full", "--help")
}

// onOneScreen says in what an answer is too long or too wide for the plainest
// terminal.
func onOneScreen(answer string) error {
	lines := strings.Split(strings.TrimSuffix(answer, "\n"), "\n")
	if len(lines) > 24 {
		return fmt.Errorf("%d lines, more than a screen", len(lines))
	}
	for _, l := range lines {
		if n := utf8.RuneCountInString(l); n > 80 {
			return fmt.Errorf("%d columns, more than a screen: %s", n, l)
		}
	}
	return nil
}

// holdsCautions says which caution of the findings, in JSON, the answer leaves out.
func holdsCautions(answer string, findings []byte) error {
	var f struct {
		Cautions []string `json:"cautions"`
		Fits     []struct {
			Cautions []string `json:"cautions"`
		} `json:"fits"`
	}
	if err := json.Unmarshal(findings, &f); err != nil {
		return err
	}
	all := f.Cautions
	for _, part := range f.Fits {
		all = append(all, part.Cautions...)
	}
	said := strings.Join(strings.Fields(answer), " ")
	for _, c := range all {
		if !strings.Contains(said, strings.Join(strings.Fields(c), " ")) {
			return fmt.Errorf("the caution %q is left out", c)
		}
	}
	return nil
}

// checkedMain is main for the scripts. It checks what the program answers: in JSON that it
// is as the command's schema says, and of each call that has a short answer that one
// screen holds it and no caution is left out.
func checkedMain() {
	args := os.Args[1:]
	inJSON := slices.Contains(args, "--json")
	if !inJSON && !answersShort(args) {
		main()
		return
	}
	var out bytes.Buffer
	ctx, stop := untilEnded()
	status := run(ctx, args, os.Environ(), os.Stdin, io.MultiWriter(os.Stdout, &out), os.Stderr)
	stop()
	if inJSON {
		mustBeDescribed(args, out.Bytes())
		os.Exit(status)
	}
	if status != statusDone {
		os.Exit(status)
	}
	err := onOneScreen(out.String())
	if err == nil && (slices.Contains(args, "spring") || slices.Contains(args, "weight") || slices.Contains(args, "fit")) {
		var findings bytes.Buffer
		run(context.Background(), append(args, "--json"), os.Environ(), os.Stdin, &findings, io.Discard)
		err = holdsCautions(out.String(), findings.Bytes())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
}

// The longest answers that given values make, in each system of units, and those of
// the demo's books.
func TestAnswersFitOneScreen(t *testing.T) {
	dir := t.TempDir()
	stock := "name,thickness,height,length,quantity\n"
	for i := range 40 {
		stock += fmt.Sprintf("a strip from the %dth drawer of the old cabinet,%.3fmm,20mm,%dmm,%d\n", i, 0.3+float64(i)/200, 1500+20*i, i%3)
	}
	file := filepath.Join(dir, "stock.csv")
	if err := os.WriteFile(file, []byte(stock), 0o600); err != nil {
		t.Fatal(err)
	}
	books := []string{filepath.Join(dir, "new.db")}
	environ := []string{"HOME=" + dir}
	if status := run(t.Context(), []string{"clock", "add", "Hall", "--book", books[0]}, environ, strings.NewReader(""), io.Discard, io.Discard); status != statusDone {
		t.Fatal("no book")
	}
	seeds, systems := 2, []string{"mm", "in", "both"}
	if testing.Short() {
		seeds, systems = 1, systems[2:]
	}
	for seed := range seeds {
		out := filepath.Join(dir, fmt.Sprint("demo", seed))
		var said bytes.Buffer
		if status := run(t.Context(), []string{"demo", "--out", out, "--seed", fmt.Sprint(seed + 1)}, environ, strings.NewReader(""), io.Discard, &said); status != statusDone {
			t.Fatal(said.String())
		}
		books = append(books, filepath.Join(out, "book.db"))
	}
	const barrel = "spring --bore 45mm --arbor 15mm"
	calls := []string{
		barrel, barrel + " --strip 0.4mm", barrel + " --strip 0.4mm --length 1767mm", barrel + " --inner 34mm",
		barrel + " --strip 0.4mm --length 900mm", barrel + " --strip 0.4mm --length 2600mm", barrel + " --strip 0.4mm --length 9m",
		barrel + " --strip 0.4mm --length 1420mm", barrel + " --strip 0.4±0.1mm --length 1767mm --inner 30mm --coils 20",
		barrel + " --strip 0.4mm --length 1490mm --inner 33mm --coils 12 --height 21mm --depth 20mm",
		barrel + " --strip 0.4mm --length 1767mm --height 20mm --depth 20.05mm --torque 3Nm --free 60mm --free-coils 20 --stop-turns 4",
		barrel + " --strip 0.4mm --length 1767mm --height 20mm --depth 20.05mm --torque 3Nm --set-up 1 --fusee-turns 16 --chain-turns 10",
		barrel + " --strip 0.4mm --length 1767mm --height 20mm --monte-carlo 1000", barrel + " --strip 1mm --length 1767mm",
		barrel + " --stock " + file, barrel + " --strip 0.4mm --length 1767mm --height 20mm --monte-carlo 1000 --stock " + file,
		"weight --drum 52mm --line 1.6mm --fall 1.45m --parts 2 --turn-hours 12 --mass 5kg", "weight --drum 52mm --fall 1.45m --turn-hours 0.5",
	}
	ofBook := append(calls, "spring", "spring --strip 0.9mm --coils 12 --stock "+file, "spring --monte-carlo 1000", "rate", "rate --beats-per-hour 3500",
		"rate --flag 5mm --flag-distance 950mm", "going", "going --from 2025-03-06", "stability", "stability --taus 1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19,20", "fit")
	for i, name := range books {
		if i > 0 {
			calls = ofBook
		}
		for _, call := range calls {
			for _, units := range systems {
				ask(t, environ, append(strings.Fields(call), "--units", units, "--book", name))
			}
		}
	}
}

// ask calls the program and checks its short answer.
func ask(t *testing.T, environ, args []string) {
	t.Helper()
	var out, findings, said bytes.Buffer
	if status := run(t.Context(), args, environ, strings.NewReader(""), &out, &said); status != statusDone {
		t.Errorf("%q: %s", args, &said)
		return
	}
	if err := onOneScreen(out.String()); err != nil {
		t.Errorf("%q: %v\n%s", args, err, &out)
	}
	run(t.Context(), append(args, "--json"), environ, strings.NewReader(""), &findings, io.Discard)
	if err := holdsCautions(out.String(), findings.Bytes()); err != nil {
		t.Errorf("%q: %v\n%s", args, err, &out)
	}
	for command, what := range map[string]string{"spring": "Before you touch a spring", "weight": "Before you touch a weight"} {
		if args[0] == command && !strings.Contains(out.String(), what) {
			t.Errorf("%q: no cautions\n%s", args, &out)
		}
	}
}

// A check that nothing fails is no check.
func TestScreenIsChecked(t *testing.T) {
	if onOneScreen(strings.Repeat("a\n", 24)) != nil || onOneScreen(strings.Repeat("a\n", 25)) == nil || onOneScreen(strings.Repeat("é", 80)) != nil || onOneScreen(strings.Repeat("é", 81)) == nil {
		t.Error("lines or columns are not counted")
	}
	findings := []byte(`{"cautions":["Let it down."],"fits":[{"cautions":["Take the power off."]}]}`)
	if holdsCautions("Let\n  it down. Take the\npower off.", findings) != nil || holdsCautions("Let it down.", findings) == nil {
		t.Error("cautions are not looked for")
	}
}

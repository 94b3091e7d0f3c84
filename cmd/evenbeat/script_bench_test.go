package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/creack/pty"
	"github.com/rogpeppe/go-internal/testscript"
)

// patience is how long a program of a script may run before it is ended: it guards
// against one that hangs, and says nothing of how long it should take.
const patience = 2 * time.Minute

// benchKey is the key under which a script finds its bench.
type benchKey struct{}

// bench is what stands about while a script runs: instruments and programs.
type bench struct {
	lines    map[string]*os.File // the instrument's side of a line, by name
	programs map[string]*program
	ctx      context.Context
}

func newBenchOf(e *testscript.Env) *bench {
	ctx, stop := context.WithTimeout(context.Background(), patience)
	b := &bench{map[string]*os.File{}, map[string]*program{}, ctx}
	e.Defer(func() {
		stop()
		for _, p := range b.programs {
			<-p.ended
		}
		for _, f := range b.lines {
			f.Close()
		}
	})
	return b
}

// program runs beside the script.
type program struct {
	cmd   *exec.Cmd
	in    io.WriteCloser
	ended chan struct{}
	err   error // once ended

	mu      sync.Mutex
	changed *sync.Cond
	over    bool
	said    map[string]*bytes.Buffer // by stream
	seen    map[string]int           // up to where it was awaited
}

// stream is one of a program's outputs.
type stream struct {
	p    *program
	name string
}

func (s stream) Write(text []byte) (int, error) {
	s.p.mu.Lock()
	defer s.p.mu.Unlock()
	s.p.changed.Broadcast()
	return s.p.said[s.name].Write(text)
}

// benchCommands are the script commands for instruments and programs:
//
//	pty open|unplug|replug NAME   a line: its port is the file NAME of the script
//	pty write NAME TEXT           the instrument sends TEXT, with \r \n \xNN
//	pty beats NAME N              the instrument sends N beats, ten a second
//	pty times NAME N BY           the same as times, by a clock that is set by BY, as -0.7s,
//	                              half way
//	start NAME COMMAND...         runs a command beside the script
//	terminal NAME COMMAND...      the same, on a terminal
//	await NAME stdout|stderr RE [VARIABLE]
//	                              until it has said that, after what was awaited before;
//	                              the variable is set to it
//	type NAME TEXT                types TEXT; type NAME alone ends its input
//	crash NAME                    as a power cut does
//	interrupt NAME                as Ctrl-C does
//	hangup NAME                   as a terminal does that is closed
//	supervisor NAME SOCKET        a service manager: its standard output is what it is told
//	ended NAME [STATUS]           until it has ended, with that status if one is named;
//	                              what it said is in NAME.stdout and NAME.stderr
//	fetch STATUS URL FILE         gets a page
func benchCommands() map[string]func(*testscript.TestScript, bool, []string) {
	all := map[string]struct {
		least int
		usage string
		do    func(*bench, *testscript.TestScript, []string) error
	}{
		"pty":        {2, "pty open|write|unplug|replug NAME [TEXT]", (*bench).pty},
		"start":      {2, "start NAME COMMAND...", (*bench).start},
		"terminal":   {2, "terminal NAME COMMAND...", (*bench).terminal},
		"await":      {3, "await NAME stdout|stderr REGEXP [VARIABLE]", (*bench).await},
		"type":       {1, "type NAME [TEXT]", (*bench).typed},
		"crash":      {1, "crash NAME", (*bench).crash},
		"interrupt":  {1, "interrupt NAME", (*bench).interrupt},
		"hangup":     {1, "hangup NAME", (*bench).hangup},
		"supervisor": {2, "supervisor NAME SOCKET", (*bench).supervisor},
		"ended":      {1, "ended NAME [STATUS]", (*bench).end},
		"fetch":      {3, "fetch STATUS URL FILE", (*bench).fetch},
	}
	cmds := map[string]func(*testscript.TestScript, bool, []string){}
	for name, c := range all {
		cmds[name] = func(ts *testscript.TestScript, neg bool, args []string) {
			if neg || len(args) < c.least {
				ts.Fatalf("usage: %s", c.usage)
			}
			ts.Check(c.do(ts.Value(benchKey{}).(*bench), ts, args))
		}
	}
	return cmds
}

func (b *bench) pty(ts *testscript.TestScript, args []string) error {
	name := ts.MkAbs(args[1])
	switch args[0] {
	case "open", "replug":
		instrument, port, err := pty.Open()
		if err != nil {
			return err
		}
		b.lines[name] = instrument
		return errors.Join(os.Symlink(port.Name(), name), port.Close())
	case "unplug":
		err := errors.Join(os.Remove(name), b.lines[name].Close())
		delete(b.lines, name)
		return err
	case "beats":
		n, err := strconv.Atoi(args[2])
		if err != nil {
			return err
		}
		start := time.Now()
		return sendBeats(b.lines[name], n, func(_ int, at time.Time) string {
			return strconv.FormatInt(at.Sub(start).Microseconds(), 10)
		})
	case "times":
		n, err := strconv.Atoi(args[2])
		by, err2 := time.ParseDuration(args[3])
		if err := errors.Join(err, err2); err != nil {
			return err
		}
		start := time.Now().UTC()
		return sendBeats(b.lines[name], n, func(i int, _ time.Time) string {
			at := start.Add(time.Duration(i) * betweenBeats) // though a busy computer sends it late
			if 2*i >= n {
				at = at.Add(by)
			}
			return at.Format(time.RFC3339Nano)
		})
	case "write":
		text, err := strconv.Unquote(`"` + strings.ReplaceAll(args[2], `"`, `\"`) + `"`)
		if err != nil {
			return err
		}
		_, err = io.WriteString(b.lines[name], text)
		return err
	}
	return errors.New("pty: open, write, beats, times, unplug or replug")
}

const betweenBeats = 100 * time.Millisecond

// sendBeats sends n beats, ten a second, each with what tell says of it. It keeps time as
// a clock does, so it takes its time.
func sendBeats(line io.Writer, n int, tell func(i int, at time.Time) string) error {
	tick := time.NewTicker(betweenBeats)
	defer tick.Stop()
	for i := range n {
		if _, err := fmt.Fprintf(line, "%s\r\n", tell(i, <-tick.C)); err != nil {
			return err
		}
	}
	return nil
}

// prepare makes a program that is not yet running.
func (b *bench) prepare(ts *testscript.TestScript, args []string) (*program, error) {
	if p := b.programs[args[0]]; p != nil {
		return nil, errors.New(args[0] + " was started before")
	}
	for _, dir := range filepath.SplitList(ts.Getenv("PATH")) {
		path := filepath.Join(dir, args[1])
		if _, err := os.Stat(path); err != nil {
			continue
		}
		p := &program{cmd: exec.CommandContext(b.ctx, path, args[2:]...), ended: make(chan struct{}),
			said: map[string]*bytes.Buffer{"stdout": {}, "stderr": {}}, seen: map[string]int{}}
		p.changed = sync.NewCond(&p.mu)
		p.cmd.Dir = ts.MkAbs(".")
		for _, name := range []string{"HOME", "PATH", "TMPDIR", "TZ", "TERM", "NO_COLOR", "EVENBEAT_BOOK", "EVENBEAT_CONFIG", "EVENBEAT_PORTS", "NOTIFY_SOCKET", notAsDescribedVar} {
			if v := ts.Getenv(name); v != "" {
				p.cmd.Env = append(p.cmd.Env, name+"="+v)
			}
		}
		b.programs[args[0]] = p
		return p, nil
	}
	return nil, errors.New(args[1] + " is not in the path")
}

func (b *bench) start(ts *testscript.TestScript, args []string) error {
	p, err := b.prepare(ts, args)
	if err != nil {
		return err
	}
	p.cmd.Stdout, p.cmd.Stderr = stream{p, "stdout"}, stream{p, "stderr"}
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		return err
	}
	err = p.cmd.Start()
	go func() { p.finish(p.cmd.Wait()) }()
	return err
}

// terminal starts a program whose three streams are a terminal, as in a window.
func (b *bench) terminal(ts *testscript.TestScript, args []string) error {
	p, err := b.prepare(ts, args)
	if err != nil {
		return err
	}
	p.cmd.Env = append(p.cmd.Env, "TERM=xterm")
	window, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 40, Cols: 120})
	if err != nil {
		close(p.ended)
		return err
	}
	p.in = window
	go func() {
		// Ends in an error when the program has closed the other side.
		_, _ = io.Copy(stream{p, "stdout"}, window)
		p.finish(errors.Join(p.cmd.Wait(), window.Close()))
	}()
	return nil
}

// finish notes how a program ended.
func (p *program) finish(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.err, p.over = err, true
	p.changed.Broadcast()
	close(p.ended)
}

func (b *bench) running(name string) (*program, error) {
	if p := b.programs[name]; p != nil {
		return p, nil
	}
	return nil, errors.New(name + " was not started")
}

func (b *bench) await(ts *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	re, err := regexp.Compile("(?m)" + args[2])
	if err != nil {
		return err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	said, ok := p.said[args[1]]
	if !ok {
		return errors.New("await stdout or stderr")
	}
	for {
		text := said.Bytes()[p.seen[args[1]]:]
		if found := re.FindIndex(text); found != nil {
			ts.Logf("%s: %s", args[0], text[:found[1]])
			if len(args) == 4 {
				ts.Setenv(args[3], string(text[found[0]:found[1]]))
			}
			p.seen[args[1]] += found[1]
			return nil
		}
		if p.over {
			return errors.New(args[0] + " ended without it, having said:\n" + p.said["stdout"].String() + p.said["stderr"].String())
		}
		p.changed.Wait()
	}
}

func (b *bench) typed(_ *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	if len(args) == 1 {
		return p.in.Close()
	}
	text, err := strconv.Unquote(`"` + strings.ReplaceAll(args[1], `"`, `\"`) + `"`)
	if err == nil {
		_, err = io.WriteString(p.in, text)
	}
	return err
}

func (b *bench) interrupt(_ *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	return p.cmd.Process.Signal(os.Interrupt)
}

// crash ends a program as a power cut does.
func (b *bench) crash(_ *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	return p.cmd.Process.Kill()
}

func (b *bench) end(ts *testscript.TestScript, args []string) error {
	p, err := b.running(args[0])
	if err != nil {
		return err
	}
	<-p.ended
	for name, said := range p.said {
		if err := os.WriteFile(ts.MkAbs(args[0]+"."+name), said.Bytes(), 0o666); err != nil {
			return err
		}
	}
	ts.Logf("[stdout]\n%s[stderr]\n%s", p.said["stdout"], p.said["stderr"])
	if len(args) == 1 {
		return nil
	}
	if got := strconv.Itoa(p.cmd.ProcessState.ExitCode()); got != args[1] {
		return errors.New(args[0] + " ended with status " + got + ", want " + args[1])
	}
	return nil
}

func (b *bench) fetch(ts *testscript.TestScript, args []string) error {
	req, err := http.NewRequestWithContext(b.ctx, http.MethodGet, args[1], nil)
	if err != nil {
		return err
	}
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	page, err := io.ReadAll(answer.Body)
	if err = errors.Join(err, answer.Body.Close()); err != nil {
		return err
	}
	if got := strconv.Itoa(answer.StatusCode); got != args[0] {
		return errors.New(args[1] + ": status " + got + ", want " + args[0])
	}
	return os.WriteFile(ts.MkAbs(args[2]), page, 0o666)
}

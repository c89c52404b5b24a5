package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// browser is a Chromium without a window, led by its DevTools protocol over a pipe, so that nothing listens on a port.
type browser struct {
	t       *testing.T
	command *exec.Cmd
	to      *os.File
	mutex   sync.Mutex
	next    int
	waiting map[int]chan reply
	session string
	heard   []string // what the page said on its console, and what it asked a network for
}

type reply struct {
	ID     int             `json:"id"`
	Result json.RawMessage `json:"result"`
	Error  *struct {
		Message string `json:"message"`
	} `json:"error"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
}

// patience is how long an answer may take on a busy machine before the browser is taken to hang.
const patience = 60 * time.Second

// newBrowser starts Debian's Chromium with a page of the given size in CSS pixels.
func newBrowser(t *testing.T, width, height int, density float64) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("chromium is not there; install the Debian package chromium")
	}
	ours, err := os.MkdirTemp("", "colonnade-chromium-")
	if err != nil {
		t.Fatal(err)
	}
	theirRead, ourWrite, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	ourRead, theirWrite, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	b := &browser{t: t, to: ourWrite, waiting: map[int]chan reply{}}
	b.command = exec.Command(path, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--mute-audio", "--remote-debugging-pipe", "--user-data-dir="+ours, "about:blank")
	b.command.ExtraFiles = []*os.File{theirRead, theirWrite}
	if err := b.command.Start(); err != nil {
		t.Fatal(err)
	}
	theirRead.Close()
	theirWrite.Close()
	ended := make(chan struct{})
	go b.listen(ourRead, ended)
	t.Cleanup(func() {
		b.session = ""
		b.call("Browser.close", nil)
		<-ended
		b.command.Wait()
		ourWrite.Close()
		ourRead.Close()
		os.RemoveAll(ours)
	})
	var target struct{ TargetID string }
	b.ask(&target, "Target.createTarget", object{"url": "about:blank"})
	var session struct{ SessionID string }
	b.ask(&session, "Target.attachToTarget", object{"targetId": target.TargetID, "flatten": true})
	b.session = session.SessionID
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		b.call(domain+".enable", nil)
	}
	b.call("Emulation.setDeviceMetricsOverride", object{"width": width, "height": height, "deviceScaleFactor": density, "mobile": width < 600})
	return b
}

type object map[string]any

// listen takes answers and events, which end with a zero byte each.
func (b *browser) listen(from *os.File, ended chan struct{}) {
	defer close(ended)
	reader := bufio.NewReader(from)
	for {
		line, err := reader.ReadBytes(0)
		if err != nil {
			b.mutex.Lock()
			for id, waiting := range b.waiting {
				close(waiting)
				delete(b.waiting, id)
			}
			b.mutex.Unlock()
			return
		}
		var r reply
		if json.Unmarshal(line[:len(line)-1], &r) != nil {
			continue
		}
		b.mutex.Lock()
		if waiting := b.waiting[r.ID]; r.ID > 0 && waiting != nil {
			delete(b.waiting, r.ID)
			waiting <- r
		}
		b.note(r)
		b.mutex.Unlock()
	}
}

// note keeps events that a page which asks nothing of anybody does not cause.
func (b *browser) note(r reply) {
	switch r.Method {
	case "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded":
		b.heard = append(b.heard, r.Method+" "+string(r.Params))
	case "Network.requestWillBeSent":
		var p struct{ Request struct{ URL string } }
		json.Unmarshal(r.Params, &p)
		// data: and blob: hold what they name.
		if url := p.Request.URL; !strings.HasPrefix(url, "data:") && !strings.HasPrefix(url, "blob:") {
			b.heard = append(b.heard, "request of "+url)
		}
	}
}

// call sends a command and gives its answer.
func (b *browser) call(method string, params any) json.RawMessage {
	b.t.Helper()
	answer := make(chan reply, 1)
	b.mutex.Lock()
	b.next++
	message := object{"id": b.next, "method": method}
	b.waiting[b.next] = answer
	b.mutex.Unlock()
	if params != nil {
		message["params"] = params
	}
	if b.session != "" {
		message["sessionId"] = b.session
	}
	text, err := json.Marshal(message)
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := b.to.Write(append(text, 0)); err != nil {
		b.t.Fatalf("chromium is gone: %v", err)
	}
	select {
	case r := <-answer:
		if r.Error != nil {
			b.t.Fatalf("%s: %s", method, r.Error.Message)
		}
		return r.Result
	case <-time.After(patience):
		b.t.Fatalf("%s: no answer in %v", method, patience)
	}
	return nil
}

func (b *browser) ask(result any, method string, params any) {
	b.t.Helper()
	if err := json.Unmarshal(b.call(method, params), result); err != nil {
		b.t.Fatal(err)
	}
}

// run runs a script in the page, waits for what it promises, and reads its value into result unless that is nil.
func (b *browser) run(result any, script string) {
	b.t.Helper()
	var out struct {
		Result struct {
			Value       json.RawMessage
			Description string
		}
		ExceptionDetails *struct {
			Text      string
			Exception struct{ Description string }
		}
	}
	b.ask(&out, "Runtime.evaluate", object{"expression": script, "awaitPromise": true, "returnByValue": true, "userGesture": true})
	if out.ExceptionDetails != nil {
		b.t.Fatalf("%s: %s %s", script[:min(len(script), 200)], out.ExceptionDetails.Text, out.ExceptionDetails.Exception.Description)
	}
	if result != nil {
		if err := json.Unmarshal(out.Result.Value, result); err != nil {
			b.t.Fatalf("%s: %v", script[:min(len(script), 200)], err)
		}
	}
}

// open opens a page from its file and waits until it is ready.
func (b *browser) open(path string) {
	b.t.Helper()
	absolute, err := filepath.Abs(path)
	if err != nil {
		b.t.Fatal(err)
	}
	b.mutex.Lock()
	b.heard = nil
	b.mutex.Unlock()
	b.call("Page.navigate", object{"url": "file://" + absolute})
	b.until(`document.getElementById("page")?.dataset.ready === "true" || document.getElementById("wait")?.textContent.includes("can not")`)
}

// until waits for a condition in the page.
func (b *browser) until(condition string) {
	b.t.Helper()
	b.run(nil, fmt.Sprintf(`new Promise((done, fail) => {
		let looks = 0;
		const look = () => (%s) ? done() : ++looks > 3000 ? fail(new Error("not so in the end")) : setTimeout(look, 10);
		look();
	})`, condition))
}

// quiet fails when the page said anything on its console or asked for anything but itself.
func (b *browser) quiet() {
	b.t.Helper()
	b.mutex.Lock()
	defer b.mutex.Unlock()
	requests := 0
	for _, line := range b.heard {
		if strings.HasPrefix(line, "request of file://") && strings.HasSuffix(line, ".html") && requests == 0 {
			requests++
			continue
		}
		b.t.Errorf("the page is not quiet: %s", line[:min(len(line), 400)])
	}
}

// press presses a key as a person does.
func (b *browser) press(key, code string, modifiers int) {
	b.t.Helper()
	event := object{"type": "keyDown", "key": key, "code": code, "modifiers": modifiers}
	if len(key) == 1 {
		event["text"] = key
	}
	b.call("Input.dispatchKeyEvent", event)
	event["type"] = "keyUp"
	delete(event, "text")
	b.call("Input.dispatchKeyEvent", event)
}

// click presses the mouse in the middle of an element.
func (b *browser) click(selector string) {
	b.t.Helper()
	var at struct{ X, Y float64 }
	b.run(&at, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.scrollIntoView({block: "center"}); const r = e.getBoundingClientRect(); return {x: r.x + r.width / 2, y: r.y + r.height / 2}; })()`, selector))
	b.mouse("mousePressed", at.X, at.Y, 0)
	b.mouse("mouseReleased", at.X, at.Y, 0)
}

func (b *browser) mouse(kind string, x, y float64, modifiers int) {
	b.t.Helper()
	b.call("Input.dispatchMouseEvent", object{"type": kind, "x": x, "y": y, "button": "left", "buttons": 1, "clickCount": 1, "modifiers": modifiers})
}

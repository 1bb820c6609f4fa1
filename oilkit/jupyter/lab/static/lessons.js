// A JupyterLab extension in plain JavaScript: a lesson of the kit starts when it is opened, and comes back with one click
// when its kernel or server is gone. Any other notebook is left alone. Without this file lessons work as other notebooks.
//
// What JupyterLab loads is a container of module federation; `load` gives it its one module.
(() => {
  const HOME = new URL(".", document.currentScript.src);
  const ASKED = decodeURIComponent(location.pathname.match(/\/tree\/(.+\.ipynb)$/)?.[1] ?? "");
  const VIEW = "application/vnd.jupyter.widget-view+json";
  const OPEN = '__import__("sys").modules["oilkit.panels.framework.instrument"].open_in_cells()';
  const PYTHON_FILE = /\.(py|pyc|pyw|pyd|so|pth|zip|egg)$/i;
  // The same asked of the kernel, in Python's own words and before anything of the kit is loaded: the server's lists hide
  // compiled files. 0 if nothing stands beside the lesson.
  const BESIDE = `int(any(
    any(inner.startswith("__init__.") for inner in __import__("os").listdir(entry.path)) if entry.is_dir()
    else entry.name.lower().endswith((".py", ".pyc", ".pyo", ".pyw", ".pyd", ".so", ".pth", ".zip", ".egg"))
    for entry in __import__("os").scandir()))`;

  const hex = (buffer) => [...new Uint8Array(buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("");

  // ------------------------------------------------------------------------------- may this code start by itself?

  // Metadata is not trust: only code that is the kit's own, letter by letter, starts by itself, and only where no file
  // beside it could be imported in place of a library. Returns what stands against it; nothing if it may.
  // known, beside: what has been fetched already, while the kernel started.
  async function whyNot(panel, lesson, [known, beside]) {
    if (!globalThis.crypto?.subtle) return "This address is not secure (https), so the browser cannot compare the lesson with the kit's own.";
    const sources = written(panel).map((cell) => cell.model.sharedModel.getSource());
    const digest = hex(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(sources.join("\0"))));
    if (known.get(lesson) !== digest) return "Code in this lesson is not the kit's own. Read it before you start it.";
    if (panel.sessionContext.session?.kernel?.name !== "python3") return "This lesson runs in another kernel than the kit's.";
    const hidden = beside || (await ask(panel.sessionContext.session.kernel, BESIDE)) !== 0;
    const what = beside || "a file";
    return hidden ? `Beside this lesson stands ${what}, which Python would load. Look at it before you start.` : "";
  }

  async function digests() {
    const answer = await fetch(new URL("lessons.json", HOME), { cache: "no-cache" }); // an update of the kit has others
    return new Map(answer.ok ? Object.entries(await answer.json()) : []);
  }

  const KNOWN = digests().catch(() => new Map()); // when this page was loaded: enough for what runs nothing of a notebook's
  const nameOf = (path) => path.split("/").pop();
  const lessonOf = (path) => nameOf(path).replace(/\.ipynb$/, "");

  const folderOf = (path) => (path.includes("/") ? path.slice(0, path.lastIndexOf("/")) : "");
  const list = async (folder) => (await fromServer(`contents/${folder.split("/").map(encodeURIComponent).join("/")}?type=directory`)).content;
  const importable = (path, listed = list(folderOf(path))) => firstImportable(listed).catch(() => "a folder that cannot be read");

  async function firstImportable(listed) {
    const found = await listed;
    const file = found.find((item) => item.type !== "directory" && PYTHON_FILE.test(item.name));
    if (file) return file.name;
    for (const item of found.filter((one) => one.type === "directory")) {
      if ((await list(item.path)).some((inner) => inner.name.startsWith("__init__."))) return item.name;
    }
    return "";
  }

  const fetchedFor = (panel) => Promise.all([digests(), importable(panel.context.path)]);

  // ---------------------------------------------------------------------------------------- while JupyterLab loads

  // JupyterLab's own way to the server is there a second later. What it would send is sent here.
  const page = JSON.parse(document.getElementById("jupyter-config-data").textContent);
  const api = (path) => new URL(`${page.baseUrl}api/${path}`, location.origin);
  async function fromServer(path, body, method = body ? "POST" : "GET") {
    const headers = { "Content-Type": "application/json" };
    const cookie = document.cookie.match(/(?:^|; )_xsrf=([^;]*)/)?.[1];
    if (cookie) headers["X-XSRFToken"] = decodeURIComponent(cookie);
    if (page.token) headers.Authorization = `token ${page.token}`;
    const asked = { method, body: body && JSON.stringify(body) };
    const answer = await fetch(api(path), { cache: "no-store", credentials: "same-origin", headers, ...asked });
    if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
    return answer.status === 204 ? null : answer.json();
  }

  // The kernel that JupyterLab will ask for starts, and loads the kit. No code of the notebook's runs before it has been
  // compared.
  const LOAD = '__import__("oilkit.panels.ahead", fromlist=["x"]).load';
  async function startAhead() {
    const lesson = lessonOf(ASKED);
    const [known, running] = await Promise.all([KNOWN, fromServer("sessions")]);
    if (!known.has(lesson) || running.some(({ path }) => path === ASKED)) return ""; // another notebook, or it lives
    const wanted = { path: ASKED, name: nameOf(ASKED), type: "notebook", kernel: { name: "python3" } };
    const listed = list(folderOf(ASKED));
    const [{ id, kernel }, beside, files] = await Promise.all([
      fromServer("sessions", wanted),
      importable(ASKED, listed),
      listed.catch(() => null),
    ]);
    if (files && !files.some(({ path }) => path === ASKED)) {
      await fromServer(`sessions/${id}`, null, "DELETE"); // moved or deleted: nothing will ask for the kernel
      return "";
    }
    if (!beside) execute(kernel.id, `if not ${BESIDE}: ${LOAD}(${JSON.stringify(lesson)})`);
    return kernel.id;
  }

  let ahead = ASKED ? startAhead().catch((problem) => console.warn("oilkit: nothing is started ahead", problem)) : null;
  async function isNew(kernel) {
    const [id] = [await ahead, (ahead = null)]; // the first time; later panels may live there
    return Boolean(id) && kernel?.id === id;
  }

  // By the messages that every Jupyter kernel understands: https://jupyter-client.readthedocs.io/en/stable/messaging.html
  function execute(kernel, code) {
    const [session, id] = [crypto.randomUUID(), crypto.randomUUID()];
    const way = api(`kernels/${kernel}/channels?session_id=${session}`);
    way.protocol = way.protocol.replace("http", "ws");
    if (page.token) way.searchParams.set("token", page.token);
    const header = { msg_id: id, msg_type: "execute_request", session, username: "", date: new Date().toISOString(), version: "5.3" };
    const content = { code, silent: true, store_history: false, user_expressions: {}, allow_stdin: false, stop_on_error: false };
    const socket = new WebSocket(way);
    socket.onopen = () => socket.send(JSON.stringify({ channel: "shell", header, parent_header: {}, metadata: {}, content, buffers: [] }));
    socket.onmessage = ({ data }) => {
      const said = typeof data === "string" ? JSON.parse(data) : {};
      if (said.parent_header?.msg_id === id && said.header.msg_type === "execute_reply") socket.close(); // the kernel goes on
    };
    setTimeout(() => socket.close(), 120_000); // a kernel that died says nothing
  }

  // ------------------------------------------------------------------------------------------------- the notebook

  const codeCells = (panel) => panel.content.widgets.filter((cell) => cell.model.type === "code");
  const written = (panel) => codeCells(panel).filter((cell) => cell.model.sharedModel.getSource().trim()); // others run nothing
  const cellId = (cell) => cell.model.sharedModel.id;

  // Views of a kernel that is gone would show an error: leave the picture and the words that are stored beside them.
  function putAwayViews(panel) {
    for (const cell of codeCells(panel)) {
      const outputs = cell.model.outputs;
      for (let k = 0; k < outputs.length; k++) {
        const output = outputs.get(k).toJSON();
        if (!output.data?.[VIEW]) continue;
        delete output.data[VIEW];
        outputs.set(k, output);
      }
    }
  }

  // Show panels that live in the kernel already, in a page that was loaded again or in a second tab. JupyterLab shows views
  // in trusted cells only; what else a file brought into such a cell is not trusted with them, and goes.
  const HARMLESS = [VIEW, "image/png", "text/plain"];
  function attachViews(panel, open) {
    for (const cell of codeCells(panel)) {
      const ids = open[cellId(cell)] ?? [];
      if (!ids.length) continue;
      const shows = (data) => ({ output_type: "display_data", metadata: {}, data });
      const view = (model_id) => ({ [VIEW]: { version_major: 2, version_minor: 0, model_id } });
      const stored = cell.model.outputs.toJSON();
      const waiting = [...ids];
      const rebuilt = stored.flatMap((output) => {
        if (output.output_type === "stream") return [output];
        if (!output.data || !waiting.length) return [];
        const still = Object.entries(output.data).filter(([type]) => HARMLESS.includes(type));
        return [shows({ ...Object.fromEntries(still), ...view(waiting.shift()) })];
      });
      cell.model.outputs.clear();
      cell.model.trusted = true;
      for (const output of [...rebuilt, ...waiting.map((id) => shows({ "text/plain": "", ...view(id) }))]) {
        cell.model.outputs.add(output);
      }
    }
  }

  // Whether the page has got hold of these models of the kernel: a view of another one would be shown as an error.
  async function known(panel, ids) {
    const late = new Promise((done) => setTimeout(done, 20_000));
    const manager = await Promise.race([panel.content.rendermime.createRenderer(VIEW)._manager?.promise, late]);
    if (!manager) return false;
    if (!manager.restoredStatus) await Promise.race([new Promise((done) => manager.restored.connect(done)), late]);
    const found = await Promise.allSettled(ids.map((id) => manager.get_model(id)));
    return found.every(({ status }) => status === "fulfilled");
  }

  async function ask(kernel, expression) {
    const future = kernel.requestExecute({ code: "", silent: true, store_history: false, user_expressions: { it: expression } });
    const { it } = (await future.done).content.user_expressions ?? {};
    return it?.status === "ok" ? JSON.parse(it.data["text/plain"]) : null;
  }

  // --------------------------------------------------------------------------------- settings that outlive a kernel

  const keep = (key, value) => {
    try {
      localStorage.setItem(key, value);
    } catch (problem) {
      console.warn("oilkit: this browser keeps no settings", problem); // no room, or a browser that keeps nothing
    }
  };
  const kept = (key) => {
    try {
      return localStorage.getItem(key);
    } catch {
      return null;
    }
  };
  // Each panel's settings, which `screen.js` tells, under its notebook and its cell's number in that; see
  // `Panel._settings`. Copies of a lesson have the same numbers, and another server may have had this address.
  const settingsKey = (lesson, id) => `oilkit:${page.baseUrl}:${page.serverRoot}/${lesson}:${id}`;
  window.addEventListener("oilkit:settings", ({ detail: { lesson, cell, call, settings } }) => {
    const key = settingsKey(lesson, cell);
    keep(key, JSON.stringify({ ...JSON.parse(kept(key) ?? "{}"), [call]: JSON.parse(settings) }));
  });

  function settingsOf(panel, path = panel.context.path) {
    const found = codeCells(panel).map((cell) => [cellId(cell), kept(settingsKey(path, cellId(cell)))]);
    return Object.fromEntries(found.filter(([, text]) => text));
  }

  const putBack = (kernel, settings) =>
    ask(kernel, `__import__("oilkit.panels.framework.instrument", fromlist=["x"]).put_back(${JSON.stringify(JSON.stringify(settings))})`);

  // ------------------------------------------------------------------------------------------------- how far one is

  // Of each panel that lives in a page: its notebook's context and its cell, how many steps or exercises in it are done,
  // and of how many.
  const far = new Map();
  window.addEventListener("oilkit:far", ({ detail: { id, ...told } }) => {
    if (told.of) far.set(id, told);
    else far.delete(id);
    window.dispatchEvent(new Event("oilkit:farther"));
  });

  // ---------------------------------------------------------------------------------------------------- one lesson

  // Of lessons that stood in tabs the day before, each starts when its tab is looked at.
  const seen = (node) =>
    new Promise((done) => {
      const watch = new IntersectionObserver((found) => {
        if (!found.some(({ isIntersecting }) => isIntersecting)) return;
        watch.disconnect();
        done();
      });
      watch.observe(node);
    });

  // When the notebook that the address names is in front: JupyterLab opens it after the tabs of the day before.
  async function askedInFront({ restored, shell }) {
    await restored;
    if (!ASKED) return;
    await new Promise((done) => {
      const look = () => shell.currentWidget?.context?.path === ASKED && done();
      shell.currentChanged.connect(look);
      look();
      setTimeout(done, 5000); // there may be no such file
    });
  }

  // A lesson in a tab behind takes nothing from the one in front: it is read, and has a kernel, when it is looked at.
  function putOff(node, context, inFront) {
    const initialize = context.initialize;
    context.initialize = async (...given) => {
      if ((await KNOWN).has(lessonOf(context.path))) {
        if (context.path !== ASKED) await inFront;
        await seen(node);
      }
      return initialize.apply(context, given);
    };
  }

  class Lesson {
    constructor(app, panel, name, { Widget, NotebookActions }) {
      Object.assign(this, { app, panel, name, sleepers: new Set() });
      this.node = document.createElement("div");
      this.node.className = "oilkit-bar";
      this.node.setAttribute("role", "status");
      this.bar = new Widget({ node: this.node });
      this.bar.hide();
      panel.contentHeader.addWidget(this.bar);
      panel.addClass("oilkit-lesson");
      const stand = () => {
        const [was, now] = [panel.node.dataset.oilkitLesson, panel.context.path];
        for (const [id, text] of Object.entries(was ? settingsOf(panel, was) : {})) keep(settingsKey(now, id), text); // renamed
        panel.node.dataset.oilkitLesson = now;
      };
      panel.context.pathChanged.connect(stand);
      stand();
      this.offerCode(Widget);
      this.showFar(Widget);
      const context = panel.sessionContext;
      context.statusChanged.connect((_, status) => this.onStatus(status));
      context.connectionStatusChanged.connect((_, status) => this.onConnection(status));
      context.kernelChanged.connect((_, { oldValue, newValue }) => oldValue && !newValue && this.lost("The lesson's kernel was shut down."));
      const ran = (_, { notebook, cell, success }) => success && notebook === panel.content && this.ranByHand(cell);
      NotebookActions.executed.connect(ran);
      panel.disposed.connect(() => NotebookActions.executed.disconnect(ran));
    }

    // The bars that stand for closed code are of no use to most: they are shown when somebody asks for them.
    offerCode(Widget) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "oilkit-code jp-mod-styled";
      button.textContent = "Code";
      button.title = "Show or hide the gray bars that stand for the code of this lesson";
      const show = (wanted) => {
        this.panel.toggleClass("oilkit-reading", !wanted);
        button.setAttribute("aria-pressed", String(wanted));
        keep("oilkit:code", String(wanted));
      };
      button.onclick = () => show(this.panel.hasClass("oilkit-reading"));
      show(kept("oilkit:code") === "true");
      this.panel.toolbar.insertItem(11, "oilkit-code", new Widget({ node: button }));
    }

    // In the toolbar, where it takes no height from the panels.
    showFar(Widget) {
      const words = document.createElement("span");
      words.className = "oilkit-far";
      words.title = "Steps and exercises of this lesson that you have done";
      const count = () => {
        const cells = new Set(codeCells(this.panel).map(cellId));
        const here = [...far.values()].filter(({ context, cell }) => context === this.panel.context && cells.has(cell));
        const sum = (name) => here.reduce((total, one) => total + one[name], 0);
        const [done, of] = [sum("done"), sum("of")];
        words.textContent = of ? `${done === of ? "✓ " : ""}${done} of ${of} done` : "";
      };
      window.addEventListener("oilkit:farther", count);
      count(); // panels of a page that is loaded again may be there already
      this.panel.disposed.connect(() => window.removeEventListener("oilkit:farther", count));
      this.panel.toolbar.insertItem(12, "oilkit-far", new Widget({ node: words }));
    }

    get kernel() {
      return this.panel.sessionContext.session?.kernel;
    }

    say(sentence, act, label) {
      this.node.replaceChildren();
      this.bar.setHidden(!sentence);
      if (!sentence) return;
      const words = document.createElement("span");
      words.textContent = sentence;
      this.node.append(words);
      if (!act) return;
      const button = document.createElement("button");
      button.type = "button";
      button.className = "jp-mod-styled jp-mod-accept";
      button.textContent = label;
      button.onclick = () => act().catch((problem) => this.say(`That did not work (${problem.message}).`, act, "Try again"));
      this.node.append(button);
    }

    async open() {
      const { panel } = this;
      putAwayViews(panel);
      await panel.revealed;
      await seen(panel.node); // one under another name is read at once
      const [fetched] = await Promise.all([fetchedFor(panel), panel.sessionContext.ready]);
      if (!(await isNew(this.kernel)) && (await this.attach())) return;
      await this.startIfKnown(fetched);
    }

    // What somebody has looked at and started by hand starts again without a question.
    async startIfKnown(fetched) {
      const against = this.byHand ? "" : await whyNot(this.panel, this.name, fetched);
      if (!against) return this.start();
      const byHand = () => {
        this.byHand = true;
        return this.start();
      };
      this.asked = () => this.say(against, byHand, "Start this lesson");
      this.asked();
    }

    // Not where some panels live and others sleep: their cells have not been run in this kernel.
    async attach() {
      const open = this.kernel && (await ask(this.kernel, OPEN));
      const ids = Object.values(open ?? {}).flat();
      if (!ids.length || [...this.sleepers].some((id) => !open[id]) || !(await known(this.panel, ids))) return false;
      attachViews(this.panel, open);
      this.awake();
      return true;
    }

    // A later start takes over from one that has not come to its end.
    async start() {
      const turn = (this.starting = {});
      this.asked = null;
      this.forgetFar();
      try {
        const changed = await this.runAll(turn);
        if (this.starting !== turn) return;
        this.awake();
        if (changed) this.say("Your panels stand as you left them.", () => this.fresh(), "All to start values");
      } catch (problem) {
        if (this.starting === turn) throw problem; // else another sentence stands there already
      } finally {
        if (this.starting === turn) this.starting = null;
      }
    }

    // Returns how many panels do not stand at their start values.
    async runAll(turn) {
      const { panel } = this;
      const before = settingsOf(panel);
      const cells = written(panel);
      let changed = 0;
      // one by one: sent all at once they would go before a hand that moves the first panel already
      const first = cells.findIndex(({ model }) => model.outputs.toJSON().some(({ data }) => data?.["image/png"]));
      const run = (cell) => cell.constructor.execute(cell, panel.sessionContext);
      const sent = cells.slice(0, first + 1).map(run);
      for (const [k, cell] of cells.entries()) {
        this.say(`The lesson starts: ${k + 1} of ${cells.length} …`);
        const reply = await (sent[k] ?? run(cell));
        if (this.starting !== turn) return 0;
        if (reply?.content.status !== "ok") throw new Error("a cell failed, its message stands below it");
        const id = cellId(cell);
        if (before[id]) changed += await putBack(this.kernel, { [id]: before[id] });
      }
      return changed;
    }

    // The same, cell by cell, as JupyterLab's own menu does it.
    async ranByHand(cell) {
      if (!this.asked && this.away !== "kernel") return;
      const id = cellId(cell);
      if (this.before?.[id]) await putBack(this.kernel, { [id]: this.before[id] });
      this.sleepers.delete(id);
      if (this.sleepers.size || (this.asked && cell !== written(this.panel).at(-1))) return;
      if (this.asked) [this.byHand, this.asked] = [true, null];
      this.awake();
    }

    async fresh() {
      await ask(this.kernel, '__import__("oilkit.panels.framework.instrument", fromlist=["x"]).start_values()');
      this.say("");
    }

    // ---- when the kernel or the way to it is gone

    asleep() {
      for (const cell of codeCells(this.panel)) {
        for (const panel of cell.node.querySelectorAll(".oilkit-panel")) {
          this.sleepers.add(cellId(cell));
          panel.classList.add("oilkit-asleep");
          panel.inert = true;
        }
      }
    }

    awake() {
      this.away = "";
      this.sleepers.clear();
      for (const panel of codeCells(this.panel).flatMap(({ node }) => [...node.querySelectorAll(".oilkit-asleep")])) {
        panel.classList.remove("oilkit-asleep");
        panel.inert = false;
      }
      this.say("");
    }

    forgetFar() {
      for (const [id, { context }] of far) if (context === this.panel.context) far.delete(id); // those of a kernel that is gone
    }

    lost(sentence) {
      if (this.asked) return this.asked(); // nothing of it has run, and the question stands
      [this.away, this.starting, this.before] = ["kernel", null, settingsOf(this.panel)];
      this.forgetFar();
      this.asleep();
      this.say(`${sentence} Nothing that you answered is lost.`, () => this.bringBack(), "Bring the lesson back");
    }

    onStatus(status) {
      if (status === "restarting") this.lost("The lesson's kernel was started again, so its panels stand still.");
      else if (status === "autorestarting") this.lost("The lesson's kernel stopped by itself and was started again.");
      else if (status === "dead") this.lost("The lesson's kernel has stopped.");
    }

    onConnection(status) {
      if (status === "connected" && this.away === "connection") this.reconnected();
      else if (status !== "connected" && !this.away && !this.asked && this.kernel) {
        this.away = "connection";
        this.asleep();
        this.say("The connection to the lesson is lost. It is being tried again …", () => this.bringBack(), "Bring the lesson back");
      }
    }

    async reconnected() {
      if (this.starting) {
        this.awake(); // it goes on
        return this.say("The lesson starts …", () => this.bringBack(), "Bring the lesson back");
      }
      try {
        if (!(await this.attach())) this.lost("The connection is back, but the lesson's kernel is another one.");
      } catch {
        this.lost("The connection is back, but the lesson's kernel does not answer.");
      }
    }

    async bringBack() {
      const context = this.panel.sessionContext;
      const midway = this.starting; // some of its panels live at most
      this.starting = null;
      this.say("The lesson comes back …");
      await this.app.serviceManager.sessions.refreshRunning();
      const kernel = this.kernel;
      if (!kernel || kernel.isDisposed || kernel.status === "dead" || kernel.connectionStatus !== "connected") {
        await context.changeKernel({ name: "python3" });
      }
      if (!midway && (await this.attach())) return;
      putAwayViews(this.panel);
      await this.startIfKnown(await fetchedFor(this.panel));
    }
  }

  const plugin = (modules) => ({
    id: "oilkit:lessons",
    description: "Opens oilkit's lessons alive and brings them back.",
    autoStart: true,
    requires: [modules.INotebookTracker],
    activate(app, tracker) {
      let first = true;
      const attend = async (panel) => {
        await panel.context.ready;
        const name = panel.context.model.getMetadata("oilkit")?.lesson;
        if (typeof name !== "string") return;
        if (first) app.shell.collapseLeft?.(); // room for the panels; the list of files opens again with a click
        first = false;
        const lesson = new Lesson(app, panel, name, modules);
        try {
          await lesson.open();
        } catch (problem) {
          console.error(problem);
          lesson.say(`The lesson did not start (${problem.message}).`, () => lesson.bringBack(), "Start again");
        }
      };
      const inFront = askedInFront(app);
      app.docRegistry.addWidgetExtension("Notebook", { createNew: ({ node }, context) => putOff(node, context, inFront) });
      tracker.widgetAdded.connect((_, panel) => attend(panel));
      tracker.forEach(attend);
    },
  });

  const style = document.createElement("style");
  style.textContent = `
    .oilkit-bar { display: flex; gap: 12px; align-items: center; justify-content: center; min-height: 34px; padding: 2px 12px;
      background: var(--jp-layout-color2, #eee); color: var(--jp-ui-font-color1, #111); font-size: 15px; }
    .oilkit-lesson .jp-MarkdownOutput > :is(p, ul, ol, blockquote) { max-width: 60em; } /* a line that the eye can follow */
    .oilkit-reading .jp-InputPlaceholder { display: none; }
    .oilkit-far { line-height: 24px; padding: 0 8px; font-weight: 600; white-space: nowrap; }
    .oilkit-code { line-height: 20px; height: 22px; padding: 0 8px; }
    .oilkit-code[aria-pressed="true"] { box-shadow: inset 0 -3px 0 currentColor; }
    .oilkit-bar.lm-mod-hidden { display: none; }
    .oilkit-asleep { filter: grayscale(1); opacity: 0.5; }
    .oilkit-asleep .jupyter-widgets-disconnected::before { display: none !important; }`;
  document.head.append(style);

  let shared = {};
  const shareOf = async (name) => (await Object.values(shared[name])[0].get())();

  (window._JUPYTERLAB ??= {}).oilkit = {
    init(scope) {
      shared = scope;
    },
    async get() {
      const [{ INotebookTracker, NotebookActions }, { Widget }] = await Promise.all(["@jupyterlab/notebook", "@lumino/widgets"].map(shareOf));
      return () => ({ __esModule: true, default: plugin({ INotebookTracker, NotebookActions, Widget }) });
    },
  };
})();

// Runs a notebook when it is opened, where its metadata holds {"plotworth": {"run_on_open": true}}.
// Written by hand as a prebuilt extension, so that nothing has to be built; folds the side bars on a narrow screen.
(() => {
  const NARROW = 800;
  const RESTORE_MS = 1500;
  const asksToRun = panel => {
    const notes = panel.content.model.getMetadata("plotworth");
    return Boolean(notes && notes.run_on_open === true);
  };
  const isNotebook = panel => Boolean(panel && panel.context && panel.sessionContext && panel.content && panel.content.activeCell !== undefined);

  // After a reload the kernel still holds the panel of the page before, and the page is fetching its parts; running
  // at once would close them under its hands.
  async function holdsWidgets(kernel) {
    const reply = await kernel.requestCommInfo({ target_name: "jupyter.widget" });
    return Object.keys((reply.content && reply.content.comms) || {}).length > 0;
  }

  async function open(app, panel) {
    await panel.context.ready;
    if (!panel.content.model || !asksToRun(panel)) return;
    await panel.sessionContext.ready;
    const session = panel.sessionContext.session;
    if (!session || !session.kernel) return;
    await session.kernel.info;
    if (await holdsWidgets(session.kernel)) await new Promise(done => setTimeout(done, RESTORE_MS));
    app.shell.activateById(panel.id);
    await app.commands.execute("notebook:run-all-cells");
    panel.content.activeCellIndex = 0;
    if (panel.content.scrollToItem) await panel.content.scrollToItem(0, "start");
  }

  function foldSides(app) {
    const shell = app.shell;
    if (shell.collapseLeft) shell.collapseLeft();
    if (shell.collapseRight) shell.collapseRight();
    for (const side of ["left", "right"]) {
      if (shell.isSideTabBarVisible && shell.isSideTabBarVisible(side)) shell.toggleSideTabBarVisibility(side);
    }
  }

  function activate(app) {
    const seen = new WeakSet();
    const look = () => {
      for (const panel of app.shell.widgets("main")) {
        if (!isNotebook(panel) || seen.has(panel)) continue;
        seen.add(panel);
        open(app, panel).catch(error => console.warn("plotworth-open:", error));
      }
    };
    app.restored.then(() => {
      if (window.innerWidth < NARROW) foldSides(app);
      look();
      if (app.shell.layoutModified) app.shell.layoutModified.connect(look);
      if (app.shell.currentChanged) app.shell.currentChanged.connect(look);
    });
  }

  const plugin = { id: "plotworth-open:plugin", autoStart: true, activate };
  const container = { init: () => {}, get: () => Promise.resolve(() => ({ __esModule: true, default: plugin })) };
  (window._JUPYTERLAB = window._JUPYTERLAB || {})["plotworth-open"] = container;
})();

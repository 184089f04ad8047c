// Turns the buck and the formed sheet. Everything that it shows stands in the page.
"use strict";
(() => {
  const TURN = Math.PI / 18; // one press of a key or button
  const NEARER = 0.85;
  const CREASE = 0.5; // radians between faces from which an edge is drawn sharp
  const root = document.getElementById("solid-view");
  const told = JSON.parse(document.getElementById("solid-data").textContent);
  const canvas = root.querySelector("canvas");
  const legend = root.querySelector(".scale");
  const wanted = { state: "buck" };
  root.hidden = false;

  let renderer;
  try {
    if (!canvas.getContext("webgl2", { antialias: true })) throw new Error("no WebGL");
    renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true });
  } catch {
    root.classList.add("without");
    return;
  }

  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const box = told.box_mm;
  // sRGB to the linear light that is reckoned with
  const linear = (byte) => (byte <= 10 ? byte / 3294.6 : ((byte / 255 + 0.055) / 1.055) ** 2.4);

  function geometryOf(body) {
    const steps = new Uint16Array(bytes(body.points).buffer);
    const points = new Float32Array(steps.length);
    for (let i = 0; i < steps.length; i++) points[i] = box.low[i % 3] + steps[i] * box.step;
    const made = new THREE.BufferGeometry();
    made.setAttribute("position", new THREE.BufferAttribute(points, 3));
    made.setIndex(new THREE.BufferAttribute(new Uint32Array(bytes(body.faces).buffer), 1));
    return made;
  }

  const scene = new THREE.Scene();
  const camera = new THREE.PerspectiveCamera(30, 1, 1, 10000);
  camera.up.set(0, 0, 1);
  const sky = new THREE.HemisphereLight(0xffffff, 0xa8b0b8);
  const sun = new THREE.DirectionalLight(0xffffff);
  scene.add(sky, sun, sun.target);
  // behind the lines that lie on them
  const behind = { polygonOffset: true, polygonOffsetFactor: 2, polygonOffsetUnits: 2 };

  const middle = new THREE.Vector3(...told.middle_mm);
  const away = new THREE.Vector3(-0.55, -0.75, 0.62).normalize();
  const size = told.radius_mm;
  const far = () => (0.8 * size) / Math.sin((camera.fov * Math.PI) / 360) / Math.min(1, camera.aspect);

  const buck = new THREE.Mesh(
    THREE.toCreasedNormals(geometryOf(told.buck), CREASE),
    new THREE.MeshLambertMaterial({ color: 0xdcd5c4, ...behind }),
  );
  scene.add(buck);

  const dots = new THREE.InstancedMesh(
    new THREE.SphereGeometry(1, 12, 8),
    new THREE.MeshLambertMaterial({ color: 0x1f2329 }),
    told.vents.length,
  );
  told.vents.forEach(([x, y, z, wide], n) => {
    const reach = Math.max(wide / 2, size / 85);
    dots.setMatrixAt(n, new THREE.Matrix4().makeScale(reach, reach, reach).setPosition(x, y, z));
  });
  scene.add(dots);

  const lines = told.lines.map((points) => {
    const drawn = new THREE.Line2(
      new THREE.LineGeometry().setPositions(points.flat()),
      new THREE.LineMaterial({ color: 0x16202a, linewidth: 3, dashed: true, dashSize: 5, gapSize: 2.5 }),
    );
    drawn.computeLineDistances();
    scene.add(drawn);
    return drawn;
  });

  let sheet = null;
  if (told.sheet) {
    const shape = geometryOf(told.sheet);
    shape.computeVertexNormals();
    const colour = { side: THREE.DoubleSide, ...behind };
    shape.addGroup(0, told.sheet.part * 3, 0);
    shape.addGroup(told.sheet.part * 3, Infinity, 1);
    sheet = new THREE.Mesh(shape, [
      new THREE.MeshLambertMaterial(colour),
      new THREE.MeshLambertMaterial({ ...colour, transparent: true, opacity: 0.45, depthWrite: false }),
    ]);
    scene.add(sheet);
    for (const state of told.states.filter((one) => one.colours))
      state.attribute = new THREE.BufferAttribute(Float32Array.from(bytes(state.colours), linear), 3);
  }

  const controls = (() => {
    // a wheel scrolls the page until the view is chosen
    canvas.addEventListener(
      "wheel",
      (event) => document.activeElement === canvas || event.stopImmediatePropagation(),
      { capture: true },
    );
    const made = new THREE.OrbitControls(camera, canvas);
    made.enablePan = false;
    made.addEventListener("change", draw);
    return made;
  })();

  let asked = false;
  function draw() {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      sun.position.copy(camera.position).add(new THREE.Vector3(-size, 0, size * 1.5));
      sun.target.position.copy(middle);
      renderer.render(scene, camera);
    });
  }

  function fit() {
    const { clientWidth: width, clientHeight: height } = canvas;
    if (!width || !height) return;
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    renderer.setSize(width, height, false);
    camera.aspect = width / height;
    camera.updateProjectionMatrix();
    for (const line of lines) line.material.resolution.set(width, height);
    draw();
  }

  function home() {
    controls.target.copy(middle);
    camera.position.copy(middle).addScaledVector(away, far());
    controls.minDistance = size * 0.3;
    controls.maxDistance = far() * 3;
    controls.update();
    draw();
  }

  function turn(round, up) {
    const from = camera.position.clone().sub(middle);
    const reach = from.length();
    const azimuth = Math.atan2(from.y, from.x) + round;
    const height = Math.max(-1.55, Math.min(1.55, Math.asin(from.z / reach) + up));
    const flat = reach * Math.cos(height);
    camera.position.set(flat * Math.cos(azimuth), flat * Math.sin(azimuth), reach * Math.sin(height));
    camera.position.add(middle);
    controls.update();
    draw();
  }

  function step(by) {
    camera.position.sub(middle).multiplyScalar(by).add(middle);
    controls.update();
    draw();
  }

  const deeds = {
    left: () => turn(-TURN, 0),
    right: () => turn(TURN, 0),
    up: () => turn(0, TURN),
    down: () => turn(0, -TURN),
    nearer: () => step(NEARER),
    farther: () => step(1 / NEARER),
    home,
  };
  const keys = {
    ArrowLeft: "left",
    ArrowRight: "right",
    ArrowUp: "up",
    ArrowDown: "down",
    "+": "nearer",
    "=": "nearer",
    "-": "farther",
    Home: "home",
  };
  canvas.addEventListener("keydown", (event) => {
    const deed = event.ctrlKey || event.metaKey || event.altKey ? null : keys[event.key];
    if (!deed) return;
    event.preventDefault();
    deeds[deed]();
  });
  for (const button of root.querySelectorAll("button[data-deed]"))
    button.addEventListener("click", deeds[button.dataset.deed]);

  function show() {
    const state = told.states.find((one) => one.name === wanted.state);
    const formed = state.name !== "buck";
    buck.visible = !formed;
    dots.visible = !formed;
    if (sheet) {
      sheet.visible = formed;
      for (const material of sheet.material) {
        material.vertexColors = Boolean(state.attribute);
        material.color.set(state.colour || "#ffffff");
        material.needsUpdate = true;
      }
      if (state.attribute) sheet.geometry.setAttribute("color", state.attribute);
    }
    // colours that are read off a scale are shaded less
    sky.intensity = state.attribute ? 2.5 : 1.6;
    sun.intensity = state.attribute ? 0.9 : 1.9;
    canvas.setAttribute("aria-label", state.words);
    legend.replaceChildren();
    for (const [colour, words] of state.scale || []) {
      const row = document.createElement("li");
      const swatch = document.createElement("span");
      swatch.style.background = colour;
      row.append(swatch, words);
      legend.append(row);
    }
    draw();
  }
  for (const one of root.querySelectorAll("input[name=solid-state]"))
    one.addEventListener("change", () => {
      wanted.state = one.value;
      show();
    });

  canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
  canvas.addEventListener("webglcontextrestored", draw);
  new ResizeObserver(fit).observe(canvas);
  fit();
  home();
  show();
})();

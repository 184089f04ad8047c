// What three.min.js is made of. See README.md.
export {
  BufferAttribute,
  BufferGeometry,
  DirectionalLight,
  DoubleSide,
  HemisphereLight,
  InstancedMesh,
  Matrix4,
  Mesh,
  MeshLambertMaterial,
  PerspectiveCamera,
  Scene,
  SphereGeometry,
  Vector3,
  WebGLRenderer,
} from "three";
export { OrbitControls } from "three/addons/controls/OrbitControls.js";
export { Line2 } from "three/addons/lines/Line2.js";
export { LineGeometry } from "three/addons/lines/LineGeometry.js";
export { LineMaterial } from "three/addons/lines/LineMaterial.js";
export { toCreasedNormals } from "three/addons/utils/BufferGeometryUtils.js";

#version 300 es
// How thread of each kind reflects one lamp, by azimuth, roll (across) and kind, tilt (down).
// The lobes are those of render/draw/lobes.py, for a viewer straight above.
precision highp float;
precision highp int;
uniform highp sampler2D u_norms;   // rows: kind, tilt; columns: roll; skin / surface norm, (1 - skin) / volume norm
uniform vec3 u_points[POINTS];     // directions to points of the lamp
uniform float u_rise[KINDS * POINTS];  // Fresnel's rise for each kind and point
uniform vec4 u_skin[KINDS];        // width and tilt of the skin's lobe, of the dye's
uniform vec4 u_once[KINDS];        // falloff, back, low, share without a direction
uniform vec4 u_dyed[KINDS];        // wrap, wrap of the even part, depth of the lobe, depth of the even part
uniform vec3 u_gain[KINDS];        // lower, aside, and the even part's low: powers of e
out vec4 texel;

float lit(float facing) {
  float share = clamp((facing + 0.1) / 0.4, 0.0, 1.0);
  return share * share * (3.0 - 2.0 * share);
}

float wrapped(float facing, float reach) {
  return max((facing + reach) / (1.0 + reach), 0.0);
}

vec2 two_bytes(float value) {
  float whole = floor(clamp(value / TOP, 0.0, 1.0) * 65535.0 + 0.5);
  float high = floor(whole / 256.0);
  return vec2(high, whole - 256.0 * high) / 255.0;
}

void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  int kind = at.y / TILTS;
  float azimuth = (float(at.x % AZIMUTHS) + 0.5) * (3.14159265358979 / float(AZIMUTHS));
  float roll = ((float(at.x / AZIMUTHS) + 0.5) / float(ROLLS) * 2.0 - 1.0) * ROLL_LIMIT;
  float tilt = ((float(at.y % TILTS) + 0.5) / float(TILTS) * 2.0 - 1.0) * TILT_LIMIT;
  vec2 along = vec2(cos(azimuth), sin(azimuth));
  float ct = cos(tilt), st = sin(tilt), cr = cos(roll), sr = sin(roll);
  vec3 axis = vec3(along * ct, st);
  vec3 normal = vec3(-along * st * cr + vec2(-along.y, along.x) * sr, ct * cr);
  vec4 skin = u_skin[kind], single = u_once[kind], dyed = u_dyed[kind];
  vec3 gain = u_gain[kind];
  float sin_r = axis.z;
  float cos_r = sqrt(max(1.0 - sin_r * sin_r, 1e-6));
  float lit_v = lit(normal.z);
  float surface = 0.0, volume = 0.0, passed = 0.0;
  for (int k = 0; k < POINTS; k++) {
    vec3 l = u_points[k];
    float sin_i = dot(axis, l);
    float cos_i = sqrt(max(1.0 - sin_i * sin_i, 1e-6));
    float n_dot_l = dot(normal, l);
    float cos_phi = (l.z - sin_i * sin_r) / (cos_i * cos_r);
    float half_phi = sqrt(max(0.5 * (1.0 + cos_phi), 0.0));
    float x = sin_i + sin_r;
    float upright = max(n_dot_l + normal.z, 0.0);
    float s2 = skin.x * skin.x + skin.y * upright * skin.y * upright;
    surface += half_phi * lit(n_dot_l) * exp(-0.5 * x * x / s2) * sqrt(cos_i / cos_r) * u_rise[kind * POINTS + k];
    s2 = skin.z * skin.z + skin.w * upright * skin.w * upright;
    float once = (1.0 - single.w) * pow(1.0 + x * x / s2, -single.x) * pow(max(half_phi, 1e-4), single.y);
    float low = sqrt(max(1.0 - 0.5 * upright, 0.0));
    once *= exp((single.z + gain.x * low) * low + gain.y * x * x / (x * x + 0.25));
    once *= wrapped(n_dot_l, dyed.x) * wrapped(normal.z, dyed.x);
    float deep = single.w * wrapped(n_dot_l, dyed.y) * wrapped(normal.z, dyed.y) * exp(gain.z * low);
    float pace = 2.0 * cos_i / (cos_i + cos_r);
    volume += (once + deep) * pace;
    passed += (once * dyed.z + deep * dyed.w) * pace;
  }
  vec2 scale = texelFetch(u_norms, ivec2(at.x / AZIMUTHS, at.y), 0).rg;
  texel = vec4(two_bytes(volume * scale.y / float(POINTS)),
               sqrt(clamp(surface * lit_v * scale.x / (float(POINTS) * TOP), 0.0, 1.0)),
               clamp(passed / max(volume, 1e-12) / DEPTH_TOP, 0.0, 1.0));
}

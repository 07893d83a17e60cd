#version 300 es
// How thread of each kind reflects one lamp, by azimuth, roll (across) and kind, tilt (down).
// The lobes are those of render/draw/lobes.py, for a viewer straight above.
precision highp float;
precision highp int;
uniform highp sampler2D u_norms;   // rows: kind, tilt; columns: roll; skin / surface norm, (1 - skin) / volume norm
uniform vec3 u_points[POINTS];     // directions to points of the lamp
uniform float u_rise[KINDS * POINTS];  // Fresnel's rise for each kind and point
uniform vec4 u_skin[KINDS];        // beta, spread, -, -
uniform vec4 u_dyed[KINDS];        // sigma, falloff, even, wrap
out vec4 texel;

float lit(float facing) {
  float share = clamp((facing + 0.1) / 0.4, 0.0, 1.0);
  return share * share * (3.0 - 2.0 * share);
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
  float beta = u_skin[kind].x, spread = u_skin[kind].y;
  float sigma = u_dyed[kind].x, falloff = u_dyed[kind].y, even = u_dyed[kind].z, wrap = u_dyed[kind].w;
  float sin_r = axis.z;
  float cos_r = sqrt(max(1.0 - sin_r * sin_r, 1e-6));
  float lit_v = lit(normal.z);
  float wrapped_v = max((normal.z + wrap) / (1.0 + wrap), 0.0);
  vec3 beside = cross(axis, normal);   // towards the right, as seen along the thread
  float surface = 0.0, volume = 0.0;
  for (int k = 0; k < POINTS; k++) {
    vec3 l = u_points[k];
    float sin_i = dot(axis, l);
    float cos_i = sqrt(max(1.0 - sin_i * sin_i, 1e-6));
    float n_dot_l = dot(normal, l);
    float cos_phi = (l.z - sin_i * sin_r) / (cos_i * cos_r);
    float half_phi = sqrt(max(0.5 * (1.0 + cos_phi), 0.0));
    float x = sin_i + sin_r;
    float sideways = spread * (dot(beside, l) + beside.z);
    float s2 = beta * beta + sideways * sideways;
    surface += half_phi * lit(n_dot_l) * exp(-0.5 * x * x / s2) * sqrt(cos_i / (cos_r * s2)) * u_rise[kind * POINTS + k];
    float wrapped = max((n_dot_l + wrap) / (1.0 + wrap), 0.0);
    float peak = pow(1.0 + x * x / (sigma * sigma), -falloff);
    volume += wrapped * (2.0 * cos_i / (cos_i + cos_r)) * (even + (1.0 - even) * peak);
  }
  vec2 scale = texelFetch(u_norms, ivec2(at.x / AZIMUTHS, at.y), 0).rg;
  texel = vec4(two_bytes(surface * lit_v * scale.x / float(POINTS)),
               two_bytes(volume * wrapped_v * scale.y / float(POINTS)));
}

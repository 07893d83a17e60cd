#version 300 es
// Each time the lamp or the step moves: what stays, and the lamp's light on the thread.
precision highp float;
precision highp int;
uniform highp sampler2D u_lies, u_rest, u_sewn, u_table;
uniform highp sampler2D u_orders, u_before0, u_before1, u_bare;
uniform vec3 u_expose;           // white card then against now
uniform int u_upto;              // the last strand sewn; all of them where negative
uniform int u_rows;
out vec4 texel;

SHARED

// Roots alone, within half a step of 255 of the true curve: powers cost three times as much in software.
vec3 to_srgb(vec3 light) {
  vec3 shown = light;
  if (max(max(light.r, light.g), light.b) > 0.75) {
    vec3 bright = 1.0 - 0.25 * exp(min((0.75 - light) * 4.0, 0.0));
    shown = mix(light, bright, greaterThan(light, vec3(0.75)));
  }
  vec3 second = sqrt(shown), fourth = sqrt(second), eighth = sqrt(fourth);
  vec3 curve = 0.662002687 * second + 0.684122060 * fourth - 0.323583601 * eighth - 0.022541147 * shown;
  return mix(curve, shown * 12.92, lessThanEqual(shown, vec3(0.0031308)));
}

int whole(vec2 bytes) {
  ivec2 part = ivec2(bytes * 255.0 + 0.5);
  return part.x * 256 + part.y;
}

void main() {
  ivec2 at = ivec2(int(gl_FragCoord.x), u_rows - 1 - int(gl_FragCoord.y));
  vec4 rest = texelFetch(u_rest, at, 0);
  vec4 sewn = texelFetch(u_sewn, at, 0);
  int block = int(sewn.b * 255.0 + 0.5);
  if (u_upto >= 0) {
    if (whole(sewn.rg) > u_upto) {
      vec4 orders = texelFetch(u_orders, at, 0);
      int latest = whole(orders.rg), first = whole(orders.ba);
      vec3 shown = texelFetch(u_bare, at, 0).rgb;
      if (latest > 0 && latest <= u_upto) shown = texelFetch(u_before0, at, 0).rgb;
      else if (first > 0 && first <= u_upto) shown = texelFetch(u_before1, at, 0).rgb;
      texel = vec4(shown, 1.0);
      return;
    }
  }
  vec3 light = rest.rgb * rest.rgb * REST_TOP;
  // Cloth lies as flat as the card that sets the exposure: it stays as it is.
  if (block > 0) light = light * u_expose + from_lamp(texelFetch(u_lies, at, 0), rest.a, block - 1, u_table);
  texel = vec4(to_srgb(light), 1.0);
}

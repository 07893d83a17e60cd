#version 300 es
// Once, as the page opens: the grey planes side by side, and what the picture shows but for its main lamp.
precision highp float;
precision highp int;
uniform highp sampler2D u_order_high, u_order_low, u_block, u_sides;
uniform highp sampler2D u_azimuth, u_tilt, u_roll, u_body;
uniform highp sampler2D u_picture, u_table;
uniform highp sampler2D u_before0_high, u_before0_low, u_before1_high, u_before1_low;
uniform int u_rows;
layout(location = 0) out vec4 lies;    // azimuth, tilt, roll, body
layout(location = 1) out vec4 rest;    // square root of what is not the main lamp's; sides
layout(location = 2) out vec4 sewn;    // order, high and low; block, 0 for cloth
layout(location = 3) out vec4 before;  // orders of what lay there before, high and low

SHARED

vec3 to_light(vec3 srgb) {
  vec3 low = srgb / 12.92, high = pow((srgb + 0.055) / 1.055, vec3(2.4));
  vec3 shown = mix(high, low, lessThanEqual(srgb, vec3(0.04045)));
  vec3 bright = 0.75 - 0.25 * log(max(1.0 - (shown - 0.75) * 4.0, 0.02));
  return mix(shown, bright, greaterThan(shown, vec3(0.75)));
}

void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  lies = vec4(texelFetch(u_azimuth, at, 0).r, texelFetch(u_tilt, at, 0).r, texelFetch(u_roll, at, 0).r,
              texelFetch(u_body, at, 0).r);
  float sides = texelFetch(u_sides, at, 0).r;
  float block = texelFetch(u_block, at, 0).r;
  sewn = vec4(texelFetch(u_order_high, at, 0).r, texelFetch(u_order_low, at, 0).r, block, 1.0);
  before = vec4(texelFetch(u_before0_high, at, 0).r, texelFetch(u_before0_low, at, 0).r,
                texelFetch(u_before1_high, at, 0).r, texelFetch(u_before1_low, at, 0).r);
  vec3 light = to_light(texelFetch(u_picture, at, 0).rgb);
  int number = int(block * 255.0 + 0.5);
  if (number > 0) light -= from_lamp(lies, sides, number - 1, u_table);
  rest = vec4(sqrt(clamp(light / REST_TOP, 0.0, 1.0)), sides);
}

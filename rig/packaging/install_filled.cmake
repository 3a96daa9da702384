# Fills in version and place, and compresses what Debian wants compressed (Debian policy 12.1 and 12.7). Runs at installation.
find_program(gzip gzip REQUIRED)

function(install_compressed file folder)
  get_filename_component(name ${file} NAME)
  execute_process(COMMAND ${gzip} -9nc ${file} OUTPUT_FILE ${between}/${name}.gz COMMAND_ERROR_IS_FATAL ANY)
  file(INSTALL ${between}/${name}.gz DESTINATION ${CMAKE_INSTALL_PREFIX}/${folder}
       PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
endfunction()

foreach(page IN LISTS pages)
  configure_file(${from}/${page}.in ${between}/${page} @ONLY)
  install_compressed(${between}/${page} ${man}/man1)
endforeach()
install_compressed(${from}/changelog ${documents})
configure_file(${from}/cvrig.service.in ${between}/cvrig.service @ONLY)
file(INSTALL ${between}/cvrig.service DESTINATION ${CMAKE_INSTALL_PREFIX}/lib/systemd/user
     PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
